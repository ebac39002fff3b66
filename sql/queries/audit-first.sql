-- The last day of the first audit recorded.
SELECT min(last_day) FROM audit
