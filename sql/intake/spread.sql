-- Implants whose levels change much from one reading to another, for the checks that compare visits: how far each side's levels
-- lie apart, and the largest lead of either side over the other. One pass over the readings serves them all.
INSERT INTO temp.spread (implant_id, mesial, distal, mesial_lead, distal_lead)
SELECT implant_id, max(level_mesial_mm) - min(level_mesial_mm), max(level_distal_mm) - min(level_distal_mm),
       max(level_mesial_mm - level_distal_mm), -min(level_mesial_mm - level_distal_mm)
FROM reading
GROUP BY implant_id
HAVING max(level_mesial_mm) - min(level_mesial_mm) > 1.99 OR max(level_distal_mm) - min(level_distal_mm) > 1.99
    OR (max(level_mesial_mm - level_distal_mm) > 0.49 AND min(level_mesial_mm - level_distal_mm) < -0.49);
