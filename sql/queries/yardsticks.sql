-- The yardsticks in their order, each with the target in force on a day (a NULL value: none, or withdrawn).
SELECT y.name, y.statement, y.unit, y.figure_section, y.figure_measure, y.figure_grouping, y.figure_level,
       y.figure_at, y.figure_baseline, y.figure_site, y.readable_width,
       t.value, t.direction, t.origin, t.set_by, t.valid_from
FROM yardstick y
LEFT JOIN yardstick_target t
       ON t.yardstick = y.name AND t.valid_from = (SELECT max(o.valid_from) FROM yardstick_target o
                                                   WHERE o.yardstick = y.name AND o.valid_from <= :day)
ORDER BY y.position, y.name
