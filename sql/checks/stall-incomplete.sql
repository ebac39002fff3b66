-- The motor stalled, but its height, torque or the final torque is missing: the case is left out of the slope.
SELECT 'implant:' || i.id AS subject, 'stalled' AS column_name, 'yes' AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'missing' AS weight, 'rules' AS blocks,
       'stalled, but not recorded: ' || ltrim(
           CASE WHEN i.stall_height_mm IS NULL THEN ', stall_height_mm' ELSE '' END
           || CASE WHEN i.stall_torque_ncm IS NULL THEN ', stall_torque_ncm' ELSE '' END
           || CASE WHEN i.final_torque_ncm IS NULL THEN ', final_torque_ncm' ELSE '' END
           || CASE WHEN i.achieved_depth_mm IS NULL THEN ', achieved_depth_mm' ELSE '' END, ', ') AS reason,
       'fill in what the surgical note says' AS remedy
FROM implant i
WHERE i.stalled = 1 AND (i.stall_height_mm IS NULL OR i.stall_torque_ncm IS NULL OR i.final_torque_ncm IS NULL OR i.achieved_depth_mm IS NULL)
