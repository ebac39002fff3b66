-- Fields that a figure needs and the row leaves empty: one doubt per case and field. Where a field is empty in more than
-- half of all implants the practice does not record it, and one notice says so instead.
WITH counts AS MATERIALIZED (
    SELECT count(*) AS total,
           sum(i.placed_on IS NULL) AS n_placed_on,
           sum(i.operator IS NULL) AS n_operator,
           sum(i.planned_depth_mm IS NULL) AS n_planned_depth_mm,
           sum(i.achieved_depth_mm IS NULL) AS n_achieved_depth_mm,
           sum(i.density_found IS NULL) AS n_density_found,
           sum(i.final_torque_ncm IS NULL) AS n_final_torque_ncm,
           sum(i.tissue_mm IS NULL) AS n_tissue_mm,
           sum(i.length_mm IS NULL) AS n_length_mm,
           sum(i.loaded_on IS NULL AND i.loaded IS NOT 0) AS n_loaded_on
    FROM implant i),
gaps AS MATERIALIZED (
      SELECT i.id, 'placed_on' AS column_name, 'survival,depth,stability,crest' AS blocks, 'the day of placement' AS words, c.n_placed_on AS n, c.total FROM implant i, counts c WHERE i.placed_on IS NULL
      UNION ALL SELECT i.id, 'operator' AS column_name, 'operators' AS blocks, 'who placed it' AS words, c.n_operator AS n, c.total FROM implant i, counts c WHERE i.operator IS NULL
      UNION ALL SELECT i.id, 'planned_depth_mm' AS column_name, 'depth' AS blocks, 'the planned depth' AS words, c.n_planned_depth_mm AS n, c.total FROM implant i, counts c WHERE i.planned_depth_mm IS NULL
      UNION ALL SELECT i.id, 'achieved_depth_mm' AS column_name, 'depth,crest' AS blocks, 'the achieved depth' AS words, c.n_achieved_depth_mm AS n, c.total FROM implant i, counts c WHERE i.achieved_depth_mm IS NULL
      UNION ALL SELECT i.id, 'density_found' AS column_name, 'stability' AS blocks, 'the density found' AS words, c.n_density_found AS n, c.total FROM implant i, counts c WHERE i.density_found IS NULL
      UNION ALL SELECT i.id, 'final_torque_ncm' AS column_name, 'stability' AS blocks, 'the final torque' AS words, c.n_final_torque_ncm AS n, c.total FROM implant i, counts c WHERE i.final_torque_ncm IS NULL
      UNION ALL SELECT i.id, 'tissue_mm' AS column_name, 'crest' AS blocks, 'the tissue height' AS words, c.n_tissue_mm AS n, c.total FROM implant i, counts c WHERE i.tissue_mm IS NULL
      UNION ALL SELECT i.id, 'length_mm' AS column_name, '' AS blocks, 'the implant length' AS words, c.n_length_mm AS n, c.total FROM implant i, counts c WHERE i.length_mm IS NULL
      UNION ALL SELECT i.id, 'loaded_on' AS column_name, 'crest' AS blocks, 'the day of loading, or that it is not loaded yet' AS words, c.n_loaded_on AS n, c.total FROM implant i, counts c WHERE i.loaded_on IS NULL AND i.loaded IS NOT 0)
SELECT 'implant:' || i.id AS subject, g.column_name, '' AS value, i.patient_id, i.id AS implant_id, i.source_batch_id,
       i.source_line AS line, 'missing' AS weight, g.blocks, 'not recorded: ' || g.words AS reason,
       'fill it in if the note or the film says it; leave it empty if it is not known' AS remedy
FROM gaps g
JOIN implant i ON i.id = g.id
WHERE 2 * g.n <= g.total
UNION ALL
SELECT 'implant:all', g.column_name, '', NULL, NULL, (SELECT max(id) FROM batch WHERE kind = 'implants' AND undone_at IS NULL),
       0, 'notice', g.blocks, g.n || ' of ' || g.total || ' implants do not tell ' || g.words,
       'record it from now on if you want the figures that need it'
FROM (SELECT DISTINCT column_name, blocks, words, n, total FROM gaps) g
WHERE 2 * g.n > g.total
