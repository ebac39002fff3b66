-- Fields that a figure needs and the row leaves empty: one doubt per case and field. Where a field is empty in more
-- than half of all implants the practice does not record it, and one notice says so instead.
WITH lacking AS MATERIALIZED (
    SELECT i.id, i.placed_on, i.operator, i.planned_depth_mm, i.achieved_depth_mm, i.density_found, i.final_torque_ncm,
           i.tissue_mm, i.length_mm, i.loaded_on, i.loaded
    FROM implant i
    WHERE i.placed_on IS NULL OR i.operator IS NULL OR i.planned_depth_mm IS NULL OR i.achieved_depth_mm IS
       NULL OR i.density_found IS NULL OR i.final_torque_ncm IS NULL OR i.tissue_mm IS NULL OR i.length_mm
       IS NULL OR (i.loaded_on IS NULL AND i.loaded IS NOT 0)),
gaps AS MATERIALIZED (
      SELECT o.id, 'placed_on' AS column_name, 'survival,depth,stability,crest' AS blocks, 'the day of placement' AS words FROM lacking o WHERE o.placed_on IS NULL
      UNION ALL SELECT o.id, 'operator' AS column_name, 'operators' AS blocks, 'who placed it' AS words FROM lacking o WHERE o.operator IS NULL
      UNION ALL SELECT o.id, 'planned_depth_mm' AS column_name, 'depth' AS blocks, 'the planned depth' AS words FROM lacking o WHERE o.planned_depth_mm IS NULL
      UNION ALL SELECT o.id, 'achieved_depth_mm' AS column_name, 'depth,crest' AS blocks, 'the achieved depth' AS words FROM lacking o WHERE o.achieved_depth_mm IS NULL
      UNION ALL SELECT o.id, 'density_found' AS column_name, 'stability' AS blocks, 'the density found' AS words FROM lacking o WHERE o.density_found IS NULL
      UNION ALL SELECT o.id, 'final_torque_ncm' AS column_name, 'stability' AS blocks, 'the final torque' AS words FROM lacking o WHERE o.final_torque_ncm IS NULL
      UNION ALL SELECT o.id, 'tissue_mm' AS column_name, 'crest' AS blocks, 'the tissue height' AS words FROM lacking o WHERE o.tissue_mm IS NULL
      UNION ALL SELECT o.id, 'length_mm' AS column_name, '' AS blocks, 'the implant length' AS words FROM lacking o WHERE o.length_mm IS NULL
      UNION ALL SELECT o.id, 'loaded_on' AS column_name, 'crest' AS blocks, 'the day of loading, or that it is not loaded yet' AS words FROM lacking o WHERE o.loaded_on IS NULL AND o.loaded IS NOT 0),
counts AS MATERIALIZED (
    SELECT column_name, blocks, words, count(*) AS n, (SELECT count(*) FROM implant) AS total
    FROM gaps
    GROUP BY column_name)
SELECT 'implant:' || i.id AS subject, g.column_name, '' AS value, i.patient_id, i.id AS implant_id, i.source_batch_id,
       i.source_line AS line, 'missing' AS weight, g.blocks, 'not recorded: ' || g.words AS reason,
       'fill it in if the note or the film says it; leave it empty if it is not known' AS remedy
FROM counts c
JOIN gaps g ON g.column_name = c.column_name
JOIN implant i ON i.id = g.id
WHERE 2 * c.n <= c.total
UNION ALL
SELECT 'implant:all', c.column_name, '', NULL, NULL,
       (SELECT max(id) FROM batch WHERE kind = 'implants' AND undone_at IS NULL), 0, 'notice', c.blocks,
       c.n || ' of ' || c.total || ' implants do not tell ' || c.words,
       'record it from now on if you want the figures that need it'
FROM counts c
WHERE 2 * c.n > c.total
