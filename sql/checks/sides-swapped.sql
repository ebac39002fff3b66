-- Two readings of one film agree within 0.3 mm when the sides of one are changed over, and as they stand differ by 1 mm or
-- more on both sides. The later of the two bears the doubt; which of them is wrong only the film can tell.
SELECT 'reading:' || r.id AS subject, 'level_mesial_mm' AS column_name, printf('%.15g', r.level_mesial_raw_mm) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'mesial and distal of this film are the other way round in another reading of it' AS reason,
       'look at the film and change the two sides over in the wrong reading' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE abs(r.level_mesial_mm - r.level_distal_mm) >= 0.7
  AND EXISTS (SELECT 1 FROM reading o
              WHERE o.implant_id = r.implant_id AND o.seen_on = r.seen_on AND o.film = r.film AND o.id < r.id
                AND abs(o.level_mesial_mm - r.level_distal_mm) <= 0.3 AND abs(o.level_distal_mm - r.level_mesial_mm) <= 0.3
                AND abs(o.level_mesial_mm - r.level_mesial_mm) >= 1 AND abs(o.level_distal_mm - r.level_distal_mm) >= 1)
