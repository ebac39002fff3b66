-- What must always hold between the records; each row is a fault in words.
SELECT 'the calibrated levels of follow-up ' || r.id || ' do not follow from its readings'
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.calibration IS NOT i.length_mm / r.imaged_length_mm
   OR r.level_mesial_mm IS NOT r.level_mesial_raw_mm * coalesce(r.calibration, 1.0)
   OR r.level_distal_mm IS NOT r.level_distal_raw_mm * coalesce(r.calibration, 1.0)
UNION ALL
SELECT 'event ' || e.id || ' names an implant of another patient'
FROM event e
JOIN implant i ON i.id = e.implant_id
WHERE i.patient_id <> e.patient_id
UNION ALL
SELECT 'the rows of batch ' || id || ' do not add up'
FROM batch
WHERE rows_read <> rows_new + rows_changed + rows_unchanged + rows_refused
   OR sha256 GLOB '*[^0-9a-f]*' OR sha256 NOT GLOB '*[^0]*'
UNION ALL
SELECT 'a ' || what || ' stems from batch ' || batch_id || ', which was undone'
FROM (SELECT 'patient' AS what, batch_id FROM patient
      UNION SELECT 'record', batch_id FROM implant
      UNION SELECT 'record', batch_id FROM reading
      UNION SELECT 'record', batch_id FROM event
      UNION SELECT 'refused row', batch_id FROM refused_row
      UNION SELECT 'doubt', batch_id FROM doubt
      UNION SELECT 'change', batch_id FROM history)
WHERE batch_id IN (SELECT id FROM batch WHERE undone_at IS NOT NULL)
UNION ALL
SELECT 'refused row ' || r.id || ' has no doubt that tells of it'
FROM refused_row r
WHERE NOT EXISTS (SELECT 1 FROM doubt d WHERE d.check_name = 'refused' AND d.subject = 'refused:' || r.id
                    AND (d.state = 'mended') = (r.mended_batch_id IS NOT NULL))
UNION ALL
SELECT 'setting ' || name || ' is missing'
FROM (SELECT 'complete_since' AS name UNION ALL SELECT 'practice_name' UNION ALL SELECT 'recall_interval_months'
      UNION ALL SELECT 'primary_reader' UNION ALL SELECT 'deck_threshold' UNION ALL SELECT 'hash_salt')
WHERE name NOT IN (SELECT name FROM setting)
