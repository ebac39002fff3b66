-- Only one of the two levels is recorded: the mean of both is missing.
SELECT 'reading:' || r.id AS subject, CASE WHEN r.level_mesial_raw_mm IS NULL THEN 'level_mesial_mm' ELSE 'level_distal_mm' END AS column_name, '' AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'missing' AS weight, 'crest' AS blocks,
       'only one side was read; the mean of both sides is missing' AS reason,
       'read the other side from the same film, if it can be read' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE (r.level_mesial_raw_mm IS NULL) <> (r.level_distal_raw_mm IS NULL)
