-- The levels of every reading, implants together: from these src/intake/spread.c finds how far the levels of each lie apart, in less
-- than half the time that SQLite's own min() and max() of six numbers take; and, where the film was measured, what was read of it,
-- from which it finds the implants with two readings alike.
SELECT implant_id, level_mesial_mm, level_distal_mm, imaged_length_mm,
       CASE WHEN imaged_length_mm IS NOT NULL THEN level_mesial_raw_mm END,
       CASE WHEN imaged_length_mm IS NOT NULL THEN level_distal_raw_mm END
FROM reading
ORDER BY implant_id
