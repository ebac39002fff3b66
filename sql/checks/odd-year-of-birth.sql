-- The age at placement cannot be right.
SELECT 'implant:' || i.id AS subject, 'birth_year' AS column_name, CAST(i.birth_year AS TEXT) AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the patient would have been about ' || (CAST(strftime('%Y', i.placed_on * 86400, 'unixepoch') AS INTEGER) - i.birth_year) || ' at placement' AS reason,
       'check the year of birth and the day of placement' AS remedy
FROM implant i
WHERE i.placed_on / 365.2425 + 1970 - i.birth_year NOT BETWEEN 14 AND 104 -- of which the year itself is then asked
  AND CAST(strftime('%Y', i.placed_on * 86400, 'unixepoch') AS INTEGER) - i.birth_year NOT BETWEEN 12 AND 105
