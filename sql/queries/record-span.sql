-- Earliest and latest dated record.
SELECT min(day), max(day)
FROM (SELECT min(placed_on) AS day FROM implant
      UNION ALL SELECT max(placed_on) FROM implant
      UNION ALL SELECT max(uncovered_on) FROM implant
      UNION ALL SELECT max(loaded_on) FROM implant
      UNION ALL SELECT min(seen_on) FROM reading
      UNION ALL SELECT max(seen_on) FROM reading
      UNION ALL SELECT min(happened_on) FROM event
      UNION ALL SELECT max(happened_on) FROM event)
