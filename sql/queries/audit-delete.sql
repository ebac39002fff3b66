-- Forget an audit that is recorded again.
DELETE FROM audit WHERE first_day = :first_day AND last_day = :last_day AND data_hash = :data_hash AND program = :program
