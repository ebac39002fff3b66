-- Something happened to the implant before it was placed.
SELECT 'event:' || e.id AS subject, 'happened_on' AS column_name, date(e.happened_on * 86400, 'unixepoch') AS value, e.patient_id,
       i.id AS implant_id, e.source_batch_id, e.source_line AS line, 'contradiction' AS weight, 'survival' AS blocks,
       'happened before the placement on ' || date(i.placed_on * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM event e
JOIN implant i ON i.id = e.implant_id
WHERE e.happened_on < i.placed_on
