-- An implant was placed, uncovered or loaded after the patient had died.
SELECT 'implant:' || i.id AS subject,
       CASE WHEN i.placed_on > g.day THEN 'placed_on' WHEN i.uncovered_on > g.day THEN 'uncovered_on' ELSE 'loaded_on' END AS column_name,
       date(CASE WHEN i.placed_on > g.day THEN i.placed_on WHEN i.uncovered_on > g.day THEN i.uncovered_on ELSE i.loaded_on END * 86400, 'unixepoch') AS value,
       i.patient_id, i.id AS implant_id, i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'after the death of the patient on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM (SELECT patient_id, min(happened_on) AS day FROM event WHERE event = 'died' GROUP BY patient_id) g
JOIN implant i ON i.patient_id = g.patient_id
WHERE i.placed_on > g.day OR i.uncovered_on > g.day OR i.loaded_on > g.day
