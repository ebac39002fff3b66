-- A date lies after the day on which its file was loaded.
SELECT 'implant:' || i.id AS subject, d.column_name, date(d.day * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'this date lay in the future when the file was loaded' AS reason, 'correct the date' AS remedy
FROM implant i
JOIN batch b ON b.id = i.source_batch_id
JOIN (SELECT id, 'placed_on' AS column_name, placed_on AS day FROM implant
      UNION ALL SELECT id, 'uncovered_on', uncovered_on FROM implant
      UNION ALL SELECT id, 'loaded_on', loaded_on FROM implant) d ON d.id = i.id
WHERE d.day > CAST(strftime('%s', b.loaded_at) AS INTEGER) / 86400
UNION ALL
SELECT 'reading:' || r.id, 'seen_on', date(r.seen_on * 86400, 'unixepoch'), i.patient_id, i.id, r.source_batch_id, r.source_line,
       'implausible', '', 'this date lay in the future when the file was loaded', 'correct the date'
FROM reading r
JOIN batch b ON b.id = r.source_batch_id
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on > CAST(strftime('%s', b.loaded_at) AS INTEGER) / 86400
UNION ALL
SELECT 'event:' || e.id, 'happened_on', date(e.happened_on * 86400, 'unixepoch'), e.patient_id, e.implant_id, e.source_batch_id,
       e.source_line, 'implausible', '', 'this date lay in the future when the file was loaded', 'correct the date'
FROM event e
JOIN batch b ON b.id = e.source_batch_id
WHERE e.happened_on > CAST(strftime('%s', b.loaded_at) AS INTEGER) / 86400
