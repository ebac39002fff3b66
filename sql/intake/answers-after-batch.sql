-- Doubts raised or turned by :batch that were answered since, the answer not being withdrawn.
SELECT count(DISTINCT d.id)
FROM doubt_answer a
JOIN doubt d ON d.id = a.doubt_id
WHERE a.id = (SELECT max(id) FROM doubt_answer WHERE doubt_id = d.id) AND a.state <> 'waiting'
  AND (d.batch_id = :batch
       OR d.subject IN (SELECT 'patient:' || id FROM patient WHERE batch_id = :batch
                        UNION ALL SELECT 'implant:' || id FROM implant WHERE batch_id = :batch
                        UNION ALL SELECT 'reading:' || id FROM reading WHERE batch_id = :batch
                        UNION ALL SELECT 'event:' || id FROM event WHERE batch_id = :batch
                        UNION ALL SELECT 'refused:' || id FROM refused_row WHERE batch_id = :batch)
       OR (a.after_batch_id >= :batch
           AND EXISTS (SELECT 1 FROM history h WHERE h.batch_id = :batch AND h.table_name = 'doubt' AND h.row_id = d.id)))
