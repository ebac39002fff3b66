-- Records that were not in a later sheet said to be all of the records. They stay, and count, until the practice decides.
SELECT 'implant:' || i.id AS subject, 'implant' AS column_name, '' AS value, i.patient_id, i.id AS implant_id,
       i.gone_batch_id AS source_batch_id, 0 AS line, 'contradiction' AS weight, '' AS blocks,
       'this implant is gone from the sheet, which was said to be all of the records' AS reason,
       'put the row back; if it never should have been there, undo the batch that brought it' AS remedy
FROM implant i
WHERE i.gone_batch_id IS NOT NULL
UNION ALL
SELECT 'reading:' || r.id, 'seen_on', date(r.seen_on * 86400, 'unixepoch'), i.patient_id, i.id, r.gone_batch_id, 0, 'contradiction', '',
       'this follow-up is gone from the sheet, which was said to be all of the records',
       'put the row back; if it never should have been there, undo the batch that brought it'
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.gone_batch_id IS NOT NULL
UNION ALL
SELECT 'event:' || e.id, 'happened_on', date(e.happened_on * 86400, 'unixepoch'), e.patient_id, e.implant_id, e.gone_batch_id, 0, 'contradiction', '',
       'this event is gone from the sheet, which was said to be all of the records',
       'put the row back; if it never should have been there, undo the batch that brought it'
FROM event e
WHERE e.gone_batch_id IS NOT NULL
