-- The final torque is lower than the torque at the stall; a limit reached may be any higher value.
SELECT 'implant:' || i.id AS subject, 'final_torque_ncm' AS column_name, printf('%.15g', i.final_torque_ncm) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'lower than the torque at the stall, ' || printf('%.15g', i.stall_torque_ncm) || ' Ncm' AS reason,
       'check both torques' AS remedy
FROM implant i
WHERE i.final_torque_ncm < i.stall_torque_ncm AND i.final_torque_capped = 0
