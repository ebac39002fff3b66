-- The final torque is more than 40 Ncm away from the torque at the stall plus the practice's own step for every millimetre from
-- there to the final depth. A limit reached may be any higher value.
WITH step AS (SELECT stated_value AS slope FROM house_rule WHERE name = 'torque-per-millimetre'),
near AS (
    SELECT i.*, i.stall_torque_ncm + s.slope * (i.stall_height_mm + i.achieved_depth_mm) AS expected, s.slope
    FROM implant i
    JOIN step s
    WHERE i.stalled = 1 AND i.stall_torque_capped = 0 AND i.stall_height_mm + i.achieved_depth_mm >= 0)
SELECT 'implant:' || i.id AS subject, 'final_torque_ncm' AS column_name, printf('%.15g', i.final_torque_ncm) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the stall plus ' || printf('%.15g', i.slope) || ' Ncm for each further millimetre would be ' || printf('%.15g', round(i.expected * 100) / 100) || ' Ncm' AS reason,
       'check both torques, the height of the stall and the depth; leave it if they are right' AS remedy
FROM near i
WHERE i.final_torque_ncm > i.expected + 40 OR (i.final_torque_ncm < i.expected - 40 AND i.final_torque_capped = 0)
