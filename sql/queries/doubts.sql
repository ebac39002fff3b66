-- Doubts for the list that goes to staff: those that keep a case out of a figure first, then by weight.
SELECT d.id AS number, d.weight, d.state, coalesce(b.file_name, '') AS file, d.line,
       coalesce(p.label, '') AS patient, coalesce(i.label, '') AS implant,
       d.column_name AS field, d.value, d.blocks, d.reason, d.remedy
FROM doubt d
LEFT JOIN batch b ON b.id = d.source_batch_id
LEFT JOIN patient p ON p.id = d.patient_id
LEFT JOIN implant i ON i.id = d.implant_id
WHERE :all = 1 OR d.state <> 'mended'
ORDER BY CASE WHEN d.weight = 'refused' OR d.blocks <> '' THEN 0 ELSE 1 END,
         CASE d.weight WHEN 'refused' THEN 1 WHEN 'contradiction' THEN 2 WHEN 'notice' THEN 3 WHEN 'implausible' THEN 4
                       ELSE 5 END,
         d.id
