-- The implant was seen before it was placed.
SELECT 'reading:' || r.id AS subject, 'seen_on' AS column_name, date(r.seen_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'crest' AS blocks,
       'seen before its placement on ' || date(i.placed_on * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on < i.placed_on
