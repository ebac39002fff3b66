-- Several slides may rest on one group: it is known as soon as one of them shows it.
INSERT INTO issued_deck_cell (deck_id, cell, patients, count, shown)
VALUES (:deck, :cell, :patients, :count, :shown)
ON CONFLICT (deck_id, cell) DO UPDATE SET shown = max(shown, excluded.shown)
