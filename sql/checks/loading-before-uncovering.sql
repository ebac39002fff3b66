-- The implant was loaded before it was uncovered.
SELECT 'implant:' || i.id AS subject, 'loaded_on' AS column_name, date(i.loaded_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'loaded before its uncovering on ' || date(i.uncovered_on * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM implant i
WHERE i.loaded_on < i.uncovered_on
