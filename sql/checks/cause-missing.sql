-- A lost implant without a recorded cause.
SELECT 'event:' || e.id AS subject, 'cause' AS column_name, '' AS value, e.patient_id, e.implant_id,
       e.source_batch_id, e.source_line AS line, 'missing' AS weight, '' AS blocks,
       'removed, and no cause is recorded' AS reason, 'fill in the cause as a short code, or unknown' AS remedy
FROM event e
WHERE e.event = 'removed' AND e.cause IS NULL
