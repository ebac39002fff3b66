-- A column of a house rule that the practice may edit; NULL leaves a column as it is.
UPDATE house_rule
SET smallest_difference = coalesce(:smallest_difference, smallest_difference),
    stated_value = coalesce(:stated_value, stated_value),
    largest_width = coalesce(:largest_width, largest_width),
    confounders = coalesce(:confounders, confounders),
    origin = :origin
WHERE name = :rule
