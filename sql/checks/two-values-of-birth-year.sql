-- The rows of one patient disagree on what cannot change.
WITH mixed AS MATERIALIZED (
    SELECT patient_id FROM implant GROUP BY patient_id HAVING min(birth_year) <> max(birth_year))
SELECT 'implant:' || i.id AS subject, 'birth_year' AS column_name, CAST(i.birth_year AS TEXT) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another row of this patient gives another year of birth' AS reason, 'correct the wrong row' AS remedy
FROM mixed m
JOIN implant i ON i.patient_id = m.patient_id
WHERE i.birth_year IS NOT NULL
