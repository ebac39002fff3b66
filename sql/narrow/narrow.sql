-- Views of this connection that stand before the tables of the same names: every query then sees the chosen implants and what
-- belongs to them, and nothing else. Nothing is written to the file. A death or a move concerns all implants of a patient,
-- whichever of them it was written beside.
CREATE TEMP TABLE chosen_implant (id INTEGER PRIMARY KEY) STRICT;
CREATE TEMP TABLE chosen_patient (id INTEGER PRIMARY KEY) STRICT;
CREATE TEMP VIEW implant AS
SELECT * FROM main.implant WHERE id IN (SELECT id FROM temp.chosen_implant);
CREATE TEMP VIEW patient AS
SELECT * FROM main.patient WHERE id IN (SELECT id FROM temp.chosen_patient);
CREATE TEMP VIEW reading AS
SELECT * FROM main.reading WHERE implant_id IN (SELECT id FROM temp.chosen_implant);
CREATE TEMP VIEW event AS
SELECT * FROM main.event
WHERE patient_id IN (SELECT id FROM temp.chosen_patient)
  AND (implant_id IS NULL OR event IN ('died', 'moved_away') OR implant_id IN (SELECT id FROM temp.chosen_implant));
CREATE TEMP VIEW doubt AS
SELECT * FROM main.doubt
WHERE (patient_id IS NULL OR patient_id IN (SELECT id FROM temp.chosen_patient))
  AND (implant_id IS NULL OR implant_id IN (SELECT id FROM temp.chosen_implant));
