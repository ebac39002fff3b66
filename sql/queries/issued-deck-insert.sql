INSERT INTO issued_deck (first_day, last_day, threshold, data_hash, issued_at)
VALUES (:first_day, :last_day, :threshold, :data_hash, :issued_at)
