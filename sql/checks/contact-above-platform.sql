-- A first contact cannot lie above the platform.
SELECT 'reading:' || r.id AS subject, 'level_kind' AS column_name, 'contact' AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'crest' AS blocks,
       'recorded as first contact, yet a level above the platform is given' AS reason,
       'type crest, or check the sign of the levels' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.level_kind = 'contact' AND max(coalesce(r.level_mesial_raw_mm, 0), coalesce(r.level_distal_raw_mm, 0)) > 0
