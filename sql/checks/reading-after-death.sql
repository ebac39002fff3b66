-- The implant was seen after the patient had died.
SELECT 'reading:' || r.id AS subject, 'seen_on' AS column_name, date(r.seen_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'seen after the death of the patient on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
JOIN (SELECT patient_id, min(happened_on) AS day FROM event WHERE event = 'died' GROUP BY patient_id) g
  ON g.patient_id = i.patient_id
WHERE r.seen_on > g.day
