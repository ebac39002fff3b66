-- Labels that differ only in leading zeros, spaces or a trailing .0 may be one patient. One of any such two has them.
WITH bare AS MATERIALIZED (
    SELECT DISTINCT ltrim(replace(CASE WHEN label GLOB '*.0' THEN substr(label, 1, length(label) - 2) ELSE label END, ' ', ''), '0') AS label
    FROM patient
    WHERE label GLOB '0*' OR label GLOB '* *' OR label GLOB '*.0')
SELECT 'patient:' || p.id AS subject, 'patient' AS column_name, '' AS value, p.id AS patient_id, NULL AS implant_id,
       p.batch_id AS source_batch_id, 0 AS line, 'contradiction' AS weight, '' AS blocks,
       'another patient has the same label but for leading zeros, spaces or .0' AS reason,
       'if they are one person, type one label everywhere' AS remedy
FROM (SELECT id, batch_id, count(*) OVER (PARTITION BY ltrim(replace(CASE WHEN label GLOB '*.0' THEN substr(label, 1, length(label) - 2) ELSE label END, ' ', ''), '0')) AS same
      FROM patient
      WHERE ltrim(replace(CASE WHEN label GLOB '*.0' THEN substr(label, 1, length(label) - 2) ELSE label END, ' ', ''), '0') IN (SELECT label FROM bare)) p
WHERE p.same > 1
