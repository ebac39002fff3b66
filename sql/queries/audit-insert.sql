-- Record an audit.
INSERT INTO audit (first_day, last_day, data_hash, program, recorded_at) VALUES (:first_day, :last_day, :data_hash, :program, :recorded_at)
