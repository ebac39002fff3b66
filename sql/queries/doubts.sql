-- Doubts for the list that goes to staff: those that keep a case out of a figure first, then by weight and by how many
-- sections they keep it out of. What is mended or left as is only with :all; :waiting asks for those without an answer;
-- :case_label for one patient, or one implant as PATIENT/IMPLANT.
SELECT d.id AS number, d.weight, CASE d.state WHEN 'left' THEN 'left as is' ELSE d.state END AS state,
       coalesce(b.file_name, '') AS file, d.line, coalesce(p.label, '') AS patient, coalesce(i.label, '') AS implant,
       d.column_name AS field, d.value, d.blocks, d.reason, d.remedy,
       CASE a.state WHEN 'left' THEN 'left as is' WHEN 'replied' THEN 'replied' ELSE '' END AS answer,
       CASE WHEN a.state <> 'waiting' THEN a.answered_by ELSE '' END AS answered_by,
       CASE WHEN a.state <> 'waiting' THEN a.reply ELSE '' END AS reply
FROM doubt d
LEFT JOIN batch b ON b.id = d.source_batch_id
LEFT JOIN patient p ON p.id = d.patient_id
LEFT JOIN implant i ON i.id = d.implant_id
LEFT JOIN doubt_answer a ON a.id = (SELECT max(id) FROM doubt_answer WHERE doubt_id = d.id)
WHERE (:all = 1 OR d.state IN ('waiting', 'replied'))
  AND (:waiting = 0 OR d.state = 'waiting')
  AND (:case_label IS NULL OR p.label = :case_label OR p.label || '/' || i.label = :case_label)
ORDER BY CASE WHEN d.weight = 'refused' OR d.blocks <> '' THEN 0 ELSE 1 END,
         CASE d.weight WHEN 'refused' THEN 1 WHEN 'contradiction' THEN 2 WHEN 'notice' THEN 3 WHEN 'implausible' THEN 4
                       ELSE 5 END,
         length(d.blocks) - length(replace(d.blocks, ',', '')) DESC,
         d.id
LIMIT :most
