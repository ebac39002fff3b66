-- The width of an interval that answers the yardstick.
UPDATE yardstick SET readable_width = :width WHERE name = :name
