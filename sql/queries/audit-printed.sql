-- The latest recorded audit of a period, other than one of the same records.
SELECT id, recorded_at FROM audit
WHERE first_day = :first_day AND last_day = :last_day AND data_hash <> :data_hash
ORDER BY recorded_at DESC, id DESC LIMIT 1
