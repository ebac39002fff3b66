-- From one visit to the next (means over the readings of a visit) the crest rises by more than 2 mm, which bone does not,
-- or falls by more than 4 mm. Only implants whose levels span that much (temp.spread, of intake/spread.c) are taken apart.
WITH visits AS (
    SELECT r.implant_id, r.seen_on, min(r.id) AS reading_id, avg(r.level_mesial_mm) AS mesial, avg(r.level_distal_mm) AS distal,
           CASE WHEN min(r.level_kind) = max(r.level_kind) THEN min(r.level_kind) END AS kind
    FROM temp.spread s
    CROSS JOIN reading r ON r.implant_id = s.implant_id
    WHERE (s.mesial > 1.99 OR s.distal > 1.99) AND r.level_mesial_mm IS NOT NULL AND r.level_distal_mm IS NOT NULL
    GROUP BY r.implant_id, r.seen_on),
steps AS (
    SELECT reading_id, lag(seen_on) OVER w AS before, mesial, distal, mesial - lag(mesial) OVER w AS mesial_step,
           distal - lag(distal) OVER w AS distal_step, kind = lag(kind) OVER w AS comparable
    FROM visits
    WINDOW w AS (PARTITION BY implant_id ORDER BY seen_on)),
jumps AS (
    SELECT reading_id, before, CASE WHEN abs(mesial_step) >= abs(distal_step) THEN 'level_mesial_mm' ELSE 'level_distal_mm' END AS column_name,
           CASE WHEN abs(mesial_step) >= abs(distal_step) THEN mesial ELSE distal END AS level,
           CASE WHEN abs(mesial_step) >= abs(distal_step) THEN mesial_step ELSE distal_step END AS step
    FROM steps
    WHERE comparable = 1
      AND (round(100 * mesial_step) NOT BETWEEN -400 AND 200 OR round(100 * distal_step) NOT BETWEEN -400 AND 200))
SELECT 'reading:' || r.id AS subject, j.column_name, printf('%.2f', j.level) AS value, i.patient_id, i.id AS implant_id,
       r.source_batch_id, r.source_line AS line, 'implausible' AS weight, '' AS blocks,
       CASE WHEN j.step > 0 THEN 'the crest rises by ' ELSE 'the crest falls by ' END || printf('%.2f', abs(j.step))
           || ' mm since the visit of ' || date(j.before * 86400, 'unixepoch') AS reason,
       'check the levels, signs and implants of both films; leave it if both are right' AS remedy
FROM jumps j
JOIN reading r ON r.id = j.reading_id
JOIN implant i ON i.id = r.implant_id
