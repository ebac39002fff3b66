-- Labels of one patient that differ only in leading zeros, spaces or a trailing .0. One of any such two has them.
WITH pairs AS (
    SELECT a.id AS one, b.id AS other
    FROM implant a
    JOIN implant b ON b.patient_id = a.patient_id AND b.id <> a.id
    WHERE (a.label GLOB '0*' OR a.label GLOB '* *' OR a.label GLOB '*.0')
      AND ltrim(replace(CASE WHEN a.label GLOB '*.0' THEN substr(a.label, 1, length(a.label) - 2) ELSE a.label END, ' ', ''), '0')
        = ltrim(replace(CASE WHEN b.label GLOB '*.0' THEN substr(b.label, 1, length(b.label) - 2) ELSE b.label END, ' ', ''), '0'))
SELECT 'implant:' || i.id AS subject, 'implant' AS column_name, '' AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another implant of this patient has the same label but for leading zeros, spaces or .0' AS reason,
       'if they are one implant, type one label everywhere' AS remedy
FROM implant i
WHERE i.id IN (SELECT one FROM pairs UNION SELECT other FROM pairs)
