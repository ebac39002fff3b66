-- The rows of one patient disagree on what cannot change.
SELECT 'implant:' || i.id AS subject, 'birth_year' AS column_name, CAST(i.birth_year AS TEXT) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another row of this patient gives another year of birth' AS reason, 'correct the wrong row' AS remedy
FROM implant i
WHERE i.birth_year IS NOT NULL
  AND EXISTS (SELECT 1 FROM implant o WHERE o.patient_id = i.patient_id AND o.birth_year <> i.birth_year)
