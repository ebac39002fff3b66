-- Every reading of both sites of a readable film, films together, in the order of readers and readings.
SELECT i.patient_id, r.implant_id, r.seen_on, r.film, r.reader, r.level_kind = 'contact' AS contact,
       (r.level_mesial_mm + r.level_distal_mm) / 2 AS level_mm
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on <= :last_day
  AND r.level_mesial_mm IS NOT NULL AND r.level_distal_mm IS NOT NULL
  AND coalesce(r.readable, 1) = 1
ORDER BY i.patient_id, r.implant_id, r.seen_on, r.film, r.reader, r.reading
