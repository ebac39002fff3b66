-- Whether an audit of the period was recorded, and whether one was of the records as they are now and still stands.
SELECT count(*) > 0, coalesce(max(data_hash = :data_hash AND restated_at IS NULL), 0)
FROM audit WHERE first_day = :first_day AND last_day = :last_day
