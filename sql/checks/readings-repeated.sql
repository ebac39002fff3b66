-- Two days with the same three measurements of one implant, to the hundredth: one film entered twice, or a row copied. Films
-- of two days hardly ever enlarge alike, so the imaged length must be there. Only readings of implants that have two alike
-- (temp.spread, of intake/spread.c) are looked at one by one.
SELECT 'reading:' || r.id AS subject, 'seen_on' AS column_name, date(r.seen_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the same levels and imaged length as on ' || date((SELECT min(o.seen_on) FROM reading o
           WHERE o.implant_id = r.implant_id AND o.seen_on < r.seen_on AND o.imaged_length_mm = r.imaged_length_mm
             AND o.level_mesial_raw_mm = r.level_mesial_raw_mm AND o.level_distal_raw_mm = r.level_distal_raw_mm) * 86400, 'unixepoch') AS reason,
       'if one film was entered twice correct the wrong row; leave it if both films read the same' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.imaged_length_mm IS NOT NULL
  AND EXISTS (SELECT 1 FROM temp.spread s WHERE s.implant_id = r.implant_id AND s.repeats)
  AND EXISTS (SELECT 1 FROM reading o
              WHERE o.implant_id = r.implant_id AND o.seen_on < r.seen_on AND o.imaged_length_mm = r.imaged_length_mm
                AND o.level_mesial_raw_mm = r.level_mesial_raw_mm AND o.level_distal_raw_mm = r.level_distal_raw_mm)
