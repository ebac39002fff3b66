-- Keyed codes that begin alike are of labels that differ only in letter case, spaces, punctuation or leading zeros.
SELECT 'patient:' || p.id AS subject, 'patient' AS column_name, '' AS value, p.id AS patient_id, NULL AS implant_id,
       p.batch_id AS source_batch_id, 0 AS line, 'contradiction' AS weight, '' AS blocks,
       'another patient''s label differs from this one''s only in letter case, spaces, punctuation or leading zeros' AS reason,
       'if they are one person, type one label everywhere' AS remedy
FROM (SELECT id, batch_id, count(*) OVER (PARTITION BY substr(label, 1, 14)) AS same FROM patient
      WHERE label GLOB 'K????????????-???') p
WHERE p.same > 1
