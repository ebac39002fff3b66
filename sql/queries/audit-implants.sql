-- The facts of every implant, patients together. `blocked` lists the figure sections that leave the implant out because of an
-- open contradiction in its records, or in those of its patient as a whole.
WITH contradiction AS MATERIALIZED (
    SELECT d.implant_id, d.blocks
    FROM doubt d
    WHERE d.implant_id IS NOT NULL AND d.weight = 'contradiction' AND d.blocks <> '' AND d.state <> 'mended'
    UNION ALL
    SELECT i.id, d.blocks
    FROM doubt d
    JOIN implant i ON i.patient_id = d.patient_id
    WHERE d.implant_id IS NULL AND d.weight = 'contradiction' AND d.blocks <> '' AND d.state <> 'mended'),
blocked AS MATERIALIZED (
    SELECT implant_id, group_concat(blocks, ' ') AS sections FROM contradiction GROUP BY implant_id)
SELECT i.patient_id, i.id, i.placed_on, i.tooth, i.operator,
       i.diameter_mm, i.length_mm, i.planned_depth_mm, i.achieved_depth_mm,
       i.depth_source = 'surgery' AS depth_at_surgery,
       i.density_planned, i.density_planned_scale = 'LZ' AS planned_lz,
       i.density_found, i.density_found_scale = 'LZ' AS found_lz,
       i.stalled, i.stall_height_mm, i.stall_torque_ncm, i.stall_torque_capped,
       i.final_torque_ncm, i.final_torque_capped, i.tissue_mm,
       CASE i.smoking WHEN 'never' THEN 0 WHEN 'former' THEN 1 WHEN 'current' THEN 2 END AS smoking,
       CASE WHEN i.loaded_on <= :last_day THEN i.loaded_on END AS loaded_on,
       CASE WHEN i.loaded_on > :last_day THEN 0 ELSE i.loaded END AS loaded,
       i.implant_line, i.graft, b.sections AS blocked,
       i.wall_buccal_mm, i.wall_lingual_mm, i.changed, i.dense_drilling, i.next_size_possible,
       i.closure = 'two-stage' AS two_stage, i.periodontitis,
       CASE i.diabetes WHEN 'none' THEN 0 WHEN 'controlled' THEN 1 WHEN 'uncontrolled' THEN 2 END AS diabetes
FROM implant i
LEFT JOIN blocked b ON b.implant_id = i.id
ORDER BY i.patient_id, i.id
