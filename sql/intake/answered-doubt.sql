-- A doubt by its number, with what an answer to it is held against, and the answer that counts now.
SELECT coalesce(p.label, '') AS patient, coalesce(i.label, '') AS implant, d.column_name AS field, d.value,
       coalesce(a.state, 'waiting') AS state, coalesce(a.answered_by, '') AS answered_by, coalesce(a.reply, '') AS reply
FROM doubt d
LEFT JOIN patient p ON p.id = d.patient_id
LEFT JOIN implant i ON i.id = d.implant_id
LEFT JOIN doubt_answer a ON a.id = (SELECT max(id) FROM doubt_answer WHERE doubt_id = d.id)
WHERE d.id = :number
