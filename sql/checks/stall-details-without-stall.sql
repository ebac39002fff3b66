-- Height or torque of a stall is recorded, but not that the motor stalled.
SELECT 'implant:' || i.id AS subject, 'stalled' AS column_name, CASE i.stalled WHEN 0 THEN 'no' ELSE '' END AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'stability,rules' AS blocks,
       CASE i.stalled WHEN 0 THEN 'said not to have stalled, yet the stall is described' ELSE 'the stall is described, but stalled is empty' END AS reason,
       'type yes when the motor stalled, else clear the height and torque of the stall' AS remedy
FROM implant i
WHERE i.stalled IS NOT 1 AND (i.stall_height_mm IS NOT NULL OR i.stall_torque_ncm IS NOT NULL)
