-- The target for early failure in force on :first_day; no row or NULL: none set.
SELECT t.value
FROM yardstick_target t
JOIN yardstick y ON y.name = t.yardstick
WHERE y.figure_section = 'survival' AND y.figure_measure = 'early_failure' AND t.direction = 'at_most'
  AND t.valid_from <= :first_day
ORDER BY t.valid_from DESC
LIMIT 1
