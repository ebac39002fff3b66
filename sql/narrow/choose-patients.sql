-- The patients of the chosen implants.
INSERT INTO temp.chosen_patient (id)
SELECT DISTINCT patient_id FROM main.implant WHERE id IN (SELECT id FROM temp.chosen_implant)
