-- The row says both that the implant is not loaded and when it was loaded.
SELECT 'implant:' || i.id AS subject, 'loaded' AS column_name, 'no' AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'said to be not loaded, yet loaded on ' || date(i.loaded_on * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two cells' AS remedy
FROM implant i
WHERE i.loaded = 0 AND i.loaded_on IS NOT NULL
