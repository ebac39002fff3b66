-- One film label under two patients or two days. Only where labels tell films apart: nine of ten must stand for one patient
-- on one day, and a label that stands for more than three is no label of a film.
WITH shots AS MATERIALIZED (
    SELECT DISTINCT r.film, i.patient_id, r.seen_on
    FROM reading r
    JOIN implant i ON i.id = r.implant_id
    WHERE r.film <> ''),
films AS MATERIALIZED (SELECT film, count(*) AS shots FROM shots GROUP BY film),
twice AS MATERIALIZED (
    SELECT film FROM films
    WHERE shots IN (2, 3) AND (SELECT 10 * sum(shots = 1) >= 9 * count(*) FROM films))
SELECT 'reading:' || r.id AS subject, 'film' AS column_name, r.film AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the same film is entered for another patient or another day' AS reason,
       'find out whose film it is and of which day; correct the other row' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE r.film IN (SELECT film FROM twice)
