-- The platform is deeper than the bone is high.
SELECT 'implant:' || i.id AS subject, 'achieved_depth_mm' AS column_name, printf('%.15g', i.achieved_depth_mm) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'depth,crest' AS blocks,
       'deeper than the bone height of ' || printf('%.15g', i.bone_height_mm) || ' mm' AS reason,
       'correct the wrong one of the two numbers' AS remedy
FROM implant i
WHERE i.achieved_depth_mm > i.bone_height_mm
