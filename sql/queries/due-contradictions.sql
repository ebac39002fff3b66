-- Contradictions in the records of implants placed by the day, and of patients as a whole, patients together. Those left as they
-- are only with :all; only those that keep a case out of a figure with :blocking.
SELECT p.label AS patient, coalesce(i.label, '') AS implant, coalesce(i.tooth, -1) AS tooth, i.placed_on, d.id AS number,
       d.reason, replace(d.blocks, ',', ', ') AS blocks
FROM doubt d
JOIN patient p ON p.id = d.patient_id
LEFT JOIN implant i ON i.id = d.implant_id
WHERE d.weight = 'contradiction' AND d.state <> 'mended'
  AND (:all = 1 OR d.state <> 'left')
  AND (:blocking = 0 OR d.blocks <> '')
  AND (d.implant_id IS NULL OR i.placed_on IS NULL OR i.placed_on <= :last_day)
ORDER BY d.patient_id, d.implant_id, d.id
