-- The rows of one patient disagree on what cannot change.
WITH mixed AS MATERIALIZED (
    SELECT patient_id FROM implant GROUP BY patient_id HAVING min(sex) <> max(sex))
SELECT 'implant:' || i.id AS subject, 'sex' AS column_name, i.sex AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another row of this patient gives another sex' AS reason, 'correct the wrong row' AS remedy
FROM mixed m
JOIN implant i ON i.patient_id = m.patient_id
WHERE i.sex IS NOT NULL
