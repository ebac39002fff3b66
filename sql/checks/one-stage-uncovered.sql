-- An implant that was never closed over cannot have been uncovered.
SELECT 'implant:' || i.id AS subject, 'uncovered_on' AS column_name, date(i.uncovered_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'placed in one stage, yet a day of uncovering is given' AS reason,
       'correct the wrong one of the two cells' AS remedy
FROM implant i
WHERE i.closure = 'one-stage' AND i.uncovered_on IS NOT NULL
