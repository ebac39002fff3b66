-- Levels are given for a film that is said to be unreadable.
SELECT 'reading:' || r.id AS subject, 'readable' AS column_name, 'no' AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'crest' AS blocks,
       'the film is said to be unreadable, yet levels are given' AS reason,
       'correct the wrong one of the two' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.readable = 0 AND (r.level_mesial_raw_mm IS NOT NULL OR r.level_distal_raw_mm IS NOT NULL)
