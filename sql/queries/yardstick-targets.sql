-- Every target of a yardstick, the earliest first.
SELECT value, direction, origin, set_by, valid_from FROM yardstick_target WHERE yardstick = :name ORDER BY valid_from
