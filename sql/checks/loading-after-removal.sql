-- The implant was uncovered or loaded after it was out.
WITH gone AS MATERIALIZED (
    SELECT id, min(happened_on) AS day
    FROM (SELECT e.implant_id AS id, e.happened_on FROM event e
          WHERE e.event IN ('removed', 'elective') AND e.implant_id IS NOT NULL
          UNION ALL
          SELECT i.id, e.happened_on FROM event e JOIN implant i ON i.patient_id = e.patient_id
          WHERE e.event IN ('removed', 'elective') AND e.implant_id IS NULL)
    GROUP BY id)
SELECT 'implant:' || i.id AS subject, CASE WHEN i.loaded_on > g.day THEN 'loaded_on' ELSE 'uncovered_on' END AS column_name,
       date(CASE WHEN i.loaded_on > g.day THEN i.loaded_on ELSE i.uncovered_on END * 86400, 'unixepoch') AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, 'survival,crest' AS blocks,
       'after the removal on ' || date(g.day * 86400, 'unixepoch') AS reason,
       'correct the wrong one of the two dates' AS remedy
FROM gone g
JOIN implant i ON i.id = g.id
WHERE i.loaded_on > g.day OR i.uncovered_on > g.day
