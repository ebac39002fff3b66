-- The class cuts in force on the last day of the period.
SELECT quantity, label, lower_cut, lower_included, upper_cut, upper_included, valid_from
FROM class_cut c
WHERE valid_from = (SELECT max(valid_from) FROM class_cut o
                    WHERE o.quantity = c.quantity AND o.valid_from <= :last_day)
ORDER BY quantity, position
