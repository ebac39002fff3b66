-- One film label under two patients or two days. Only where labels tell films apart: nine of ten must stand for one patient
-- on one day, and a label that stands for more than three is no label of a film.
WITH several AS MATERIALIZED (
    SELECT r.film, count(DISTINCT i.patient_id || ' ' || r.seen_on) AS shots
    FROM reading r
    JOIN implant i ON i.id = r.implant_id
    WHERE r.film IN (SELECT o.film FROM reading o JOIN implant p ON p.id = o.implant_id WHERE o.film <> ''
                     GROUP BY o.film HAVING min(p.patient_id) <> max(p.patient_id) OR min(o.seen_on) <> max(o.seen_on))
    GROUP BY r.film),
twice AS MATERIALIZED (
    SELECT film FROM several
    WHERE shots IN (2, 3)
      AND 10 * (SELECT count(*) FROM several) <= (SELECT count(DISTINCT film) FROM reading WHERE film <> ''))
SELECT 'reading:' || r.id AS subject, 'film' AS column_name, r.film AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       'the same film is entered for another patient or another day' AS reason,
       'find out whose film it is and of which day; correct the other row' AS remedy
FROM reading r
JOIN implant i ON i.id = r.implant_id
WHERE EXISTS (SELECT 1 FROM twice) AND r.film IN (SELECT film FROM twice)
