-- Events dated in time, one row per implant concerned, in the order of audit-implants.sql and then of days. An event of the
-- whole patient, and every death or move, concerns all of the patient's implants.
SELECT i.patient_id, i.id, e.event, e.happened_on
FROM implant i
JOIN event e ON e.patient_id = i.patient_id
WHERE e.happened_on <= :last_day
  AND (e.implant_id IS NULL OR e.implant_id = i.id OR e.event IN ('died', 'moved_away'))
  AND e.event IN ('removed', 'elective', 'unused', 'died', 'moved_away')
ORDER BY i.patient_id, i.id, e.happened_on, e.event
