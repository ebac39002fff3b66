INSERT INTO deck_letter (kind, label_hash, place) VALUES (:kind, :label_hash, :place)
ON CONFLICT (kind, label_hash) DO NOTHING
