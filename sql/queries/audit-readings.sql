-- Every follow-up row dated in time, in the order of audit-implants.sql and then of days; on one day the primary
-- reader's first, then by reader and film. Only reading 1 gives levels.
SELECT i.patient_id, i.id, r.seen_on, r.reader,
       CASE WHEN r.readable = 0 OR r.reading <> 1 THEN NULL ELSE r.level_mesial_mm END AS level_mesial_mm,
       CASE WHEN r.readable = 0 OR r.reading <> 1 THEN NULL ELSE r.level_distal_mm END AS level_distal_mm,
       r.level_kind = 'contact' AS contact,
       r.mobile, r.radiolucency, r.pain, r.suppuration, r.bleeding, r.probing_mm
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on <= :last_day
ORDER BY i.patient_id, i.id, r.seen_on, r.reader <> :primary_reader, r.reader, r.film, r.reading
