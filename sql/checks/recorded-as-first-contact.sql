-- Implants placed 0.5 mm or more below the crest start with the crest above the platform. Where most of them have
-- a placement level of 0 or less (mean of both sides, first reading 0 to 30 days after placement), the levels were
-- probably recorded as first contact.
WITH starts AS (
    SELECT (r.level_mesial_mm + r.level_distal_mm) / 2 AS level,
           min(((r.seen_on - i.placed_on) * 100 + r.reading << 48) + r.id) AS first
    FROM implant i
    CROSS JOIN reading r ON r.implant_id = i.id AND r.seen_on BETWEEN i.placed_on AND i.placed_on + 30
    WHERE i.achieved_depth_mm >= 0.5 AND r.level_kind = 'crest' AND r.level_mesial_mm IS NOT NULL
      AND r.level_distal_mm IS NOT NULL
    GROUP BY i.id),
counts AS (SELECT count(*) AS n, sum(level <= 0) AS low FROM starts)
SELECT 'reading:all' AS subject, 'level_kind' AS column_name, '' AS value, NULL AS patient_id, NULL AS implant_id,
       (SELECT max(id) FROM batch WHERE kind = 'followups' AND undone_at IS NULL) AS source_batch_id, 0 AS line,
       'contradiction' AS weight, 'crest' AS blocks,
       'recorded as first contact? ' || low || ' of ' || n
           || ' implants placed 0.5 mm or more below the crest start with a level of 0 or less' AS reason,
       'if so, type contact in level_kind; until this is settled the change of the crest is not told' AS remedy
FROM counts
WHERE 2 * low > n
