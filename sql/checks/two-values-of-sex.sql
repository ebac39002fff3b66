-- The rows of one patient disagree on what cannot change.
SELECT 'implant:' || i.id AS subject, 'sex' AS column_name, i.sex AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another row of this patient gives another sex' AS reason, 'correct the wrong row' AS remedy
FROM implant i
WHERE i.sex IS NOT NULL
  AND EXISTS (SELECT 1 FROM implant o WHERE o.patient_id = i.patient_id AND o.sex <> i.sex)
