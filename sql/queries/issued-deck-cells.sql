-- What issued decks showed and kept back, deck by deck. A count with an outcome comes with that of those without it.
SELECT a.cell, a.patients, a.count, a.shown, b.cell, b.patients, b.count, a.deck_id
FROM issued_deck_cell a
LEFT JOIN issued_deck_cell b ON b.deck_id = a.deck_id AND b.cell = a.cell || 'out' -- with, without
WHERE a.cell LIKE '%;all' OR a.cell LIKE '%;with'
ORDER BY a.deck_id, a.cell
