-- Films (all of them or, with all_films = 0, baseline films: 0 to 30 days after placement) read more than once by one
-- reader, both sites: the mean level of each reading, films together.
SELECT r.implant_id, i.patient_id, r.seen_on, r.film, r.reader, r.reading,
       (r.level_mesial_mm + r.level_distal_mm) / 2 AS level_mm
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.seen_on <= :last_day
  AND (:all_films = 1 OR r.seen_on BETWEEN i.placed_on AND i.placed_on + 30)
  AND r.level_mesial_mm IS NOT NULL AND r.level_distal_mm IS NOT NULL
  AND coalesce(r.readable, 1) = 1
  AND EXISTS (SELECT 1 FROM reading o
              WHERE o.implant_id = r.implant_id AND o.seen_on = r.seen_on AND o.film = r.film
                AND o.reader = r.reader AND o.reading <> r.reading
                AND o.level_mesial_mm IS NOT NULL AND o.level_distal_mm IS NOT NULL
                AND coalesce(o.readable, 1) = 1)
ORDER BY i.patient_id, r.implant_id, r.seen_on, r.film, r.reader, r.reading
