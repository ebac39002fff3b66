-- An implant can leave the mouth once.
SELECT 'event:' || e.id AS subject, 'event' AS column_name, e.event AS value, e.patient_id, e.implant_id,
       e.source_batch_id, e.source_line AS line, 'contradiction' AS weight, 'survival' AS blocks,
       'already removed on ' || date(first.happened_on * 86400, 'unixepoch') AS reason,
       'correct or delete the wrong one of the two events' AS remedy
FROM event e
JOIN event first ON first.implant_id = e.implant_id AND first.event IN ('removed', 'elective')
 AND (first.happened_on, first.id) < (e.happened_on, e.id)
WHERE e.event IN ('removed', 'elective')
