-- Labels of one patient that differ only in leading zeros, spaces or a trailing .0.
SELECT 'implant:' || i.id AS subject, 'implant' AS column_name, '' AS value, i.patient_id, i.id AS implant_id,
       i.source_batch_id, i.source_line AS line, 'contradiction' AS weight, '' AS blocks,
       'another implant of this patient has the same label but for leading zeros, spaces or .0' AS reason,
       'if they are one implant, type one label everywhere' AS remedy
FROM (SELECT *, count(*) OVER (PARTITION BY patient_id, ltrim(replace(CASE WHEN label GLOB '*.0' THEN substr(label, 1, length(label) - 2) ELSE label END, ' ', ''), '0')) AS same FROM implant) i
WHERE i.same > 1
