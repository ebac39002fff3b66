-- The period of the latest audit recorded.
SELECT first_day, last_day FROM audit ORDER BY last_day DESC, first_day DESC LIMIT 1
