-- Nothing happens to a patient who has died.
SELECT 'event:' || e.id AS subject, 'happened_on' AS column_name, date(e.happened_on * 86400, 'unixepoch') AS value, e.patient_id,
       e.implant_id, e.source_batch_id, e.source_line AS line, 'contradiction' AS weight, 'survival' AS blocks,
       'after the death of the patient on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM event e
JOIN (SELECT patient_id, min(happened_on) AS day FROM event WHERE event = 'died' GROUP BY patient_id) g
  ON g.patient_id = e.patient_id
WHERE e.happened_on > g.day
