-- Where no primary reader is named: the reader with the most first readings.
SELECT reader
FROM reading
WHERE seen_on <= :last_day AND reading = 1 AND (level_mesial_mm IS NOT NULL OR level_distal_mm IS NOT NULL)
GROUP BY reader
ORDER BY count(*) DESC, reader
LIMIT 1
