-- The bone level lies further below the platform than the implant is long.
SELECT 'reading:' || r.id AS subject, CASE WHEN -r.level_mesial_mm > i.length_mm THEN 'level_mesial_mm' ELSE 'level_distal_mm' END AS column_name,
       printf('%.15g', CASE WHEN -r.level_mesial_mm > i.length_mm THEN r.level_mesial_raw_mm ELSE r.level_distal_raw_mm END) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'crest' AS blocks,
       'further below the platform than the implant is long, ' || printf('%.15g', i.length_mm) || ' mm' AS reason,
       'check the level, its sign and the length of the implant' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE -min(coalesce(r.level_mesial_mm, 0), coalesce(r.level_distal_mm, 0)) > i.length_mm
