-- Two implants of a patient on one site, the later without a removal of the earlier one between them.
-- Of two on the same day the one recorded later is named.
SELECT 'implant:' || late.id AS subject, 'tooth' AS column_name, CAST(late.tooth AS TEXT) AS value, late.patient_id,
       late.id AS implant_id, late.source_batch_id, late.source_line AS line, 'contradiction' AS weight,
       'survival' AS blocks,
       'this site has had an implant since ' || date(early.placed_on * 86400, 'unixepoch') || ', and no removal is recorded' AS reason,
       'record the removal, or correct the tooth or label' AS remedy
FROM implant late
JOIN implant early ON early.patient_id = late.patient_id AND early.tooth = late.tooth
 AND (early.placed_on, early.id) < (late.placed_on, late.id)
WHERE NOT EXISTS (SELECT 1 FROM event e
                  WHERE e.patient_id = early.patient_id AND (e.implant_id = early.id OR e.implant_id IS NULL)
                    AND e.event IN ('removed', 'elective') AND e.happened_on <= late.placed_on)
