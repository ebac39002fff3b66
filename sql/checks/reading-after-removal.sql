-- The implant was seen after it was out.
WITH gone AS MATERIALIZED (
    SELECT id, min(happened_on) AS day
    FROM (SELECT e.implant_id AS id, e.happened_on FROM event e
          WHERE e.event IN ('removed', 'elective') AND e.implant_id IS NOT NULL
          UNION ALL
          SELECT i.id, e.happened_on FROM event e JOIN implant i ON i.patient_id = e.patient_id
          WHERE e.event IN ('removed', 'elective') AND e.implant_id IS NULL)
    GROUP BY id)
SELECT 'reading:' || r.id AS subject, 'seen_on' AS column_name, date(r.seen_on * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'seen after its removal on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM gone g
CROSS JOIN implant i ON i.id = g.id
CROSS JOIN reading r ON r.implant_id = i.id
WHERE r.seen_on > g.day
