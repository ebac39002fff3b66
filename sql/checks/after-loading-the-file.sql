-- A date lies after the day on which its file was loaded.
SELECT 'implant:' || i.id AS subject, 'placed_on' AS column_name, date(i.placed_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'this date lay in the future when the file was loaded' AS reason, 'correct the date' AS remedy
FROM implant i
WHERE i.placed_on > (SELECT CAST(strftime('%s', min(loaded_at)) AS INTEGER) / 86400 FROM batch)
  AND i.placed_on > (SELECT CAST(strftime('%s', loaded_at) AS INTEGER) / 86400 FROM batch WHERE id = i.source_batch_id)
UNION ALL
SELECT 'implant:' || i.id AS subject, 'uncovered_on' AS column_name, date(i.uncovered_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'this date lay in the future when the file was loaded' AS reason, 'correct the date' AS remedy
FROM implant i
WHERE i.uncovered_on > (SELECT CAST(strftime('%s', min(loaded_at)) AS INTEGER) / 86400 FROM batch)
  AND i.uncovered_on > (SELECT CAST(strftime('%s', loaded_at) AS INTEGER) / 86400 FROM batch WHERE id = i.source_batch_id)
UNION ALL
SELECT 'implant:' || i.id AS subject, 'loaded_on' AS column_name, date(i.loaded_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'this date lay in the future when the file was loaded' AS reason, 'correct the date' AS remedy
FROM implant i
WHERE i.loaded_on > (SELECT CAST(strftime('%s', min(loaded_at)) AS INTEGER) / 86400 FROM batch)
  AND i.loaded_on > (SELECT CAST(strftime('%s', loaded_at) AS INTEGER) / 86400 FROM batch WHERE id = i.source_batch_id)
UNION ALL
SELECT 'reading:' || r.id, 'seen_on', date(r.seen_on * 86400, 'unixepoch'), i.patient_id, i.id, r.source_batch_id, r.source_line,
       'implausible', '', 'this date lay in the future when the file was loaded', 'correct the date'
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on > (SELECT CAST(strftime('%s', min(loaded_at)) AS INTEGER) / 86400 FROM batch)
  AND r.seen_on > (SELECT CAST(strftime('%s', loaded_at) AS INTEGER) / 86400 FROM batch WHERE id = r.source_batch_id)
UNION ALL
SELECT 'event:' || e.id, 'happened_on', date(e.happened_on * 86400, 'unixepoch'), e.patient_id, e.implant_id, e.source_batch_id,
       e.source_line, 'implausible', '', 'this date lay in the future when the file was loaded', 'correct the date'
FROM event e
WHERE e.happened_on > (SELECT CAST(strftime('%s', loaded_at) AS INTEGER) / 86400 FROM batch WHERE id = e.source_batch_id)
