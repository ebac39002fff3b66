-- From one visit to the next (means over the readings of a visit) the crest rises by more than 2 mm, which bone does not,
-- or falls by more than 4 mm. Only implants whose levels span that much are taken apart.
WITH wide AS MATERIALIZED (
    SELECT implant_id
    FROM reading
    GROUP BY implant_id
    HAVING max(level_mesial_mm) - min(level_mesial_mm) > 1.99 OR max(level_distal_mm) - min(level_distal_mm) > 1.99),
visits AS (
    SELECT implant_id, seen_on, min(id) AS reading_id, avg(level_mesial_mm) AS mesial, avg(level_distal_mm) AS distal,
           CASE WHEN min(level_kind) = max(level_kind) THEN min(level_kind) END AS kind
    FROM reading
    WHERE level_mesial_mm IS NOT NULL AND level_distal_mm IS NOT NULL AND implant_id IN (SELECT implant_id FROM wide)
    GROUP BY implant_id, seen_on),
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
