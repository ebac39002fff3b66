-- Set a target from a day on, or withdraw it (NULL value); the same day again replaces.
INSERT INTO yardstick_target (yardstick, value, direction, origin, valid_from, set_by)
VALUES (:name, :value, :direction, :origin, :valid_from, :set_by)
ON CONFLICT (yardstick, valid_from) DO UPDATE
SET value = excluded.value, direction = excluded.direction, origin = excluded.origin, set_by = excluded.set_by
