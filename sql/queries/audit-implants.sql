-- The facts of every implant, patients together. Doubts of implants or of their patients that are still open and name
-- figure sections are joined into `blocked` (a list of sections). A value that is only missing bars nothing: the figures
-- that need it leave the case out themselves, and all others use it.
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
       (SELECT group_concat(d.blocks, ' ')
        FROM doubt d
        WHERE d.implant_id = i.id AND d.blocks <> '' AND d.weight <> 'missing' AND d.state <> 'mended') AS blocked
FROM implant i
ORDER BY i.patient_id, i.id
