-- Forget the figures of an audit that is recorded again.
DELETE FROM figure WHERE audit_id IN (SELECT id FROM audit WHERE first_day = :first_day AND last_day = :last_day AND data_hash = :data_hash AND program = :program)
