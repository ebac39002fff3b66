-- All records again.
DROP VIEW IF EXISTS temp.implant;
DROP VIEW IF EXISTS temp.patient;
DROP VIEW IF EXISTS temp.reading;
DROP VIEW IF EXISTS temp.event;
DROP VIEW IF EXISTS temp.doubt;
DROP TABLE IF EXISTS temp.chosen_implant;
DROP TABLE IF EXISTS temp.chosen_patient;
