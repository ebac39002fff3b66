-- Calibrated levels of readings whose implant's length, imaged length or raw levels were changed by :batch.
UPDATE reading
SET calibration = i.length_mm / reading.imaged_length_mm,
    level_mesial_mm = reading.level_mesial_raw_mm * coalesce(i.length_mm / reading.imaged_length_mm, 1.0),
    level_distal_mm = reading.level_distal_raw_mm * coalesce(i.length_mm / reading.imaged_length_mm, 1.0)
FROM implant i
WHERE i.id = reading.implant_id
  AND (reading.implant_id IN (SELECT row_id FROM history
                              WHERE batch_id = :batch AND table_name = 'implant' AND column_name = 'length_mm')
       OR reading.id IN (SELECT row_id FROM history
                         WHERE batch_id = :batch AND table_name = 'reading'
                           AND column_name IN ('imaged_length_mm', 'level_mesial_raw_mm', 'level_distal_raw_mm')));
