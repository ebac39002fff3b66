-- The implant was seen after it was out.
SELECT 'reading:' || r.id AS subject, 'seen_on' AS column_name, date(r.seen_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'seen after its removal on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
JOIN (SELECT i2.id AS implant_id, min(e.happened_on) AS day
      FROM event e
      JOIN implant i2 ON i2.id = e.implant_id OR (e.implant_id IS NULL AND i2.patient_id = e.patient_id)
      WHERE e.event IN ('removed', 'elective')
      GROUP BY i2.id) g ON g.implant_id = i.id
WHERE r.seen_on > g.day
