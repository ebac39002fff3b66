-- Depth and length together reach beyond the bone height, and no graft is recorded.
-- Hundredths are compared, so that 10 + 1.5 is within 11.5.
SELECT 'implant:' || i.id AS subject, 'bone_height_mm' AS column_name, printf('%.15g', i.bone_height_mm) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'depth and length together are ' || printf('%.15g', round((i.achieved_depth_mm + i.length_mm) * 100) / 100) || ' mm, more than the bone height' AS reason,
       'check depth, length and bone height, or whether bone was added' AS remedy
FROM implant i
WHERE round((i.achieved_depth_mm + i.length_mm) * 100) > round(i.bone_height_mm * 100)
  AND NOT i.achieved_depth_mm > i.bone_height_mm AND i.graft IS NOT 1
