-- A periapical film enlarges a little; a factor outside 0.8 to 1.25 points to a typing error.
SELECT 'reading:' || r.id AS subject, 'imaged_length_mm' AS column_name, printf('%.15g', r.imaged_length_mm) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the implant is ' || printf('%.15g', i.length_mm) || ' mm long: the levels are multiplied by ' || printf('%.3f', r.calibration) || ', outside 0.8 to 1.25' AS reason,
       'check both lengths' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.calibration NOT BETWEEN 0.8 AND 1.25
