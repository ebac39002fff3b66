-- The levels of every reading, implants together: from these src/intake/spread.c finds how far the levels of each lie apart, in less
-- than half the time that SQLite's own min() and max() of six numbers take.
SELECT implant_id, level_mesial_mm, level_distal_mm
FROM reading
ORDER BY implant_id
