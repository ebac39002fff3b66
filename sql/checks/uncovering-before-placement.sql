-- The implant was uncovered before it was placed.
SELECT 'implant:' || i.id AS subject, 'uncovered_on' AS column_name, date(i.uncovered_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'uncovered before its placement on ' || date(i.placed_on * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM implant i
WHERE i.uncovered_on < i.placed_on
