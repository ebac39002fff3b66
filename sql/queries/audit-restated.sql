-- Whether an audit of the period was recorded that a file taken back out has restated since.
SELECT EXISTS (SELECT 1 FROM audit WHERE first_day = :first_day AND last_day = :last_day AND restated_at IS NOT NULL)
