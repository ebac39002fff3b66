-- At one visit the sides are the other way round than at the visits before and after it: as they stand both sides differ by
-- 1 mm or more from both neighbours, changed over they agree within 0.5 mm. Hence each side leads
-- the other by 0.5 mm or more at one of these visits: only such implants (temp.spread, of intake/spread.c) are taken apart.
WITH visits AS (
    SELECT r.implant_id, r.seen_on, min(r.id) AS reading_id, avg(r.level_mesial_mm) AS mesial, avg(r.level_distal_mm) AS distal
    FROM temp.spread s
    CROSS JOIN reading r ON r.implant_id = s.implant_id
    WHERE s.mesial_lead > 0.49 AND s.distal_lead > 0.49 AND r.level_mesial_mm IS NOT NULL AND r.level_distal_mm IS NOT NULL
    GROUP BY r.implant_id, r.seen_on),
beside AS (
    SELECT reading_id, mesial, distal, lag(mesial) OVER w AS mesial_before, lag(distal) OVER w AS distal_before,
           lead(mesial) OVER w AS mesial_after, lead(distal) OVER w AS distal_after
    FROM visits
    WINDOW w AS (PARTITION BY implant_id ORDER BY seen_on))
SELECT 'reading:' || r.id AS subject, 'level_mesial_mm' AS column_name, printf('%.15g', r.level_mesial_raw_mm) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'mesial and distal are the other way round than at the visits before and after' AS reason,
       'look at the film; if the sides were mistaken change them over' AS remedy
FROM beside b
JOIN reading r ON r.id = b.reading_id
JOIN implant i ON i.id = r.implant_id
WHERE min(abs(b.mesial - b.mesial_before), abs(b.distal - b.distal_before), abs(b.mesial - b.mesial_after), abs(b.distal - b.distal_after)) >= 1
  AND max(abs(b.mesial - b.distal_before), abs(b.distal - b.mesial_before), abs(b.mesial - b.distal_after), abs(b.distal - b.mesial_after)) <= 0.5
