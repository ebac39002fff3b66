-- Later batches in force that touch rows which :batch brought or changed, and how many rows: by changing them, by holding them
-- in their own file, or by adding rows that belong to them. A batch older than the keeping of seen rows, or of refused
-- rows met again (history of a refused row that waits afterwards), may touch them: it is counted with all rows it found known
-- or refused without a trace.
WITH touched AS MATERIALIZED (
    SELECT 'patient' AS table_name, id AS row_id FROM patient WHERE batch_id = :batch
    UNION SELECT 'implant', id FROM implant WHERE batch_id = :batch
    UNION SELECT 'reading', id FROM reading WHERE batch_id = :batch
    UNION SELECT 'event', id FROM event WHERE batch_id = :batch
    UNION SELECT 'refused_row', id FROM refused_row WHERE batch_id = :batch
    UNION SELECT table_name, row_id FROM history WHERE batch_id = :batch AND table_name <> 'doubt'),
later AS MATERIALIZED (
    SELECT id, rows_unchanged, rows_refused, kind, whole,
           CASE kind WHEN 'implants' THEN 'implant' WHEN 'followups' THEN 'reading' ELSE 'event' END AS table_name
    FROM batch WHERE id > :batch AND undone_at IS NULL),
touches AS (
    SELECT h.batch_id, h.table_name, h.row_id
    FROM touched t
    JOIN history h ON h.table_name = t.table_name AND h.row_id = t.row_id AND h.batch_id > :batch
    UNION
    SELECT l.id, t.table_name, t.row_id
    FROM later l
    JOIN seen_rows s ON s.batch_id = l.id
    JOIN touched t ON t.table_name = l.table_name AND t.row_id BETWEEN s.first_id AND s.last_id
    UNION
    SELECT i.batch_id, 'implant', i.id FROM touched t JOIN implant i ON i.patient_id = t.row_id
    WHERE t.table_name = 'patient' AND i.batch_id > :batch
    UNION
    SELECT e.batch_id, 'event', e.id FROM touched t JOIN event e ON e.patient_id = t.row_id
    WHERE t.table_name = 'patient' AND e.batch_id > :batch
    UNION
    SELECT r.batch_id, 'reading', r.id FROM implant i JOIN reading r ON r.implant_id = i.id
    WHERE i.batch_id = :batch AND r.batch_id > :batch
    UNION
    SELECT e.batch_id, 'event', e.id FROM implant i JOIN event e ON e.implant_id = i.id
    WHERE i.batch_id = :batch AND e.batch_id > :batch
    UNION
    -- a later whole sheet without a row found it gone already
    SELECT l.id, h.table_name, h.row_id
    FROM history h
    JOIN later l ON l.table_name = h.table_name AND l.whole = 1
    WHERE h.batch_id = :batch AND h.column_name = 'gone_batch_id' AND h.new_value IS NOT NULL)
SELECT id, sum(n) AS rows_touched
FROM (SELECT batch_id AS id, count(*) AS n FROM touches GROUP BY batch_id
      UNION ALL
      SELECT l.id, l.rows_unchanged FROM later l
      WHERE l.rows_unchanged > 0 AND l.kind = (SELECT kind FROM batch WHERE id = :batch)
        AND NOT EXISTS (SELECT 1 FROM seen_rows s WHERE s.batch_id = l.id)
      UNION ALL
      SELECT id, unexplained FROM (
          SELECT l.id, l.kind, l.rows_refused - (SELECT count(*) FROM refused_row r WHERE r.batch_id = l.id)
              - (SELECT count(*) FROM history h WHERE h.batch_id = l.id AND h.table_name = 'refused_row' AND h.new_value IS NULL)
              AS unexplained FROM later l)
      WHERE unexplained > 0 AND EXISTS (SELECT 1 FROM refused_row r WHERE r.batch_id = :batch AND kind = r.kind))
WHERE id IN (SELECT id FROM later)
GROUP BY id
ORDER BY id
