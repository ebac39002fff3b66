-- The imaged length cannot be used while the implant length is missing.
SELECT 'reading:' || r.id AS subject, 'imaged_length_mm' AS column_name, printf('%.15g', r.imaged_length_mm) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'missing' AS weight, '' AS blocks,
       'the length of the implant is not recorded, so the levels are used as they were read' AS reason,
       'fill in length_mm of the implant' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.imaged_length_mm IS NOT NULL AND i.length_mm IS NULL
