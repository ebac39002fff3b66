-- The same three files in the sqlite3 shell, as well as it can do it: STRICT tables with typed columns and the same keys, filled in
-- one pass and one transaction a file. STRICT tables refuse the empty cells of a CSV file, which .import hands on as empty text:
-- a view takes each row, its trigger makes empty cells NULL, numbers of capped torques, and 1 of an empty reading number. This
-- is the quickest way we know to have them so; .import into tables of text and INSERT ... SELECT from there takes a third longer.
--
-- What it has of a load: the keys and what follows from them (a row twice is an error), types of numbers, a rollback journal with
-- synchronous = EXTRA, 16 MiB of cache. What it has not: checks of codes, ranges and dates (which stay text), owners looked up (it
-- keeps the two labels in each row), foreign keys, seals of pages, the hash of the file, detection of the dialect, corrections,
-- history, the source of each row, doubts.
CREATE TABLE implant (
    id INTEGER PRIMARY KEY, patient TEXT NOT NULL, implant TEXT NOT NULL, tooth INTEGER, placed_on TEXT, operator TEXT,
    implant_line TEXT, diameter_mm REAL, length_mm REAL, planned_depth_mm REAL, achieved_depth_mm REAL, depth_source TEXT,
    density_planned TEXT, density_found TEXT, stalled TEXT, stall_height_mm REAL, stall_torque_ncm REAL,
    final_torque_ncm REAL, isq INTEGER, tissue_mm REAL, wall_buccal_mm REAL, wall_lingual_mm REAL, bone_height_mm REAL,
    changed TEXT, dense_drilling TEXT, next_size_possible TEXT, closure TEXT, timing TEXT, graft TEXT, uncovered_on TEXT,
    loaded_on TEXT, loaded TEXT, birth_year INTEGER, sex TEXT, smoking TEXT, diabetes TEXT, periodontitis TEXT,
    UNIQUE (patient, implant)) STRICT;
CREATE TABLE reading (
    id INTEGER PRIMARY KEY, patient TEXT NOT NULL, implant TEXT NOT NULL, seen_on TEXT NOT NULL, visit TEXT, film TEXT NOT NULL,
    reader TEXT NOT NULL, reading INTEGER NOT NULL, level_mesial_mm REAL, level_distal_mm REAL, level_kind TEXT,
    imaged_length_mm REAL, readable TEXT, radiolucency TEXT, probing_mm REAL, bleeding TEXT, suppuration TEXT, mobile TEXT,
    pain TEXT, UNIQUE (patient, implant, seen_on, film, reader, reading)) STRICT;
CREATE TABLE event (
    id INTEGER PRIMARY KEY, patient TEXT NOT NULL, implant TEXT NOT NULL, happened_on TEXT NOT NULL, event TEXT NOT NULL,
    cause TEXT, UNIQUE (patient, implant, happened_on, event)) STRICT;
CREATE INDEX event_of_implant ON event (implant);

CREATE VIEW implant_sheet AS
    SELECT
    patient, implant, tooth, placed_on, operator, implant_line, diameter_mm, length_mm, planned_depth_mm, achieved_depth_mm,
    depth_source, density_planned, density_found, stalled, stall_height_mm, stall_torque_ncm, final_torque_ncm, isq,
    tissue_mm, wall_buccal_mm, wall_lingual_mm, bone_height_mm, changed, dense_drilling, next_size_possible, closure,
    timing, graft, uncovered_on, loaded_on, loaded, birth_year, sex, smoking, diabetes, periodontitis
    FROM implant;
CREATE TRIGGER take_implant INSTEAD OF INSERT ON implant_sheet BEGIN
    INSERT INTO implant (
    patient, implant, tooth, placed_on, operator, implant_line, diameter_mm, length_mm, planned_depth_mm, achieved_depth_mm,
    depth_source, density_planned, density_found, stalled, stall_height_mm, stall_torque_ncm, final_torque_ncm, isq,
    tissue_mm, wall_buccal_mm, wall_lingual_mm, bone_height_mm, changed, dense_drilling, next_size_possible, closure,
    timing, graft, uncovered_on, loaded_on, loaded, birth_year, sex, smoking, diabetes, periodontitis)
    VALUES (
    NEW.patient, NEW.implant, nullif(NEW.tooth, ''), nullif(NEW.placed_on, ''), nullif(NEW.operator, ''),
    nullif(NEW.implant_line, ''), nullif(NEW.diameter_mm, ''), nullif(NEW.length_mm, ''), nullif(NEW.planned_depth_mm, ''),
    nullif(NEW.achieved_depth_mm, ''), nullif(NEW.depth_source, ''), nullif(NEW.density_planned, ''),
    nullif(NEW.density_found, ''), nullif(NEW.stalled, ''), nullif(NEW.stall_height_mm, ''),
    ltrim(nullif(NEW.stall_torque_ncm, ''), '>='), ltrim(nullif(NEW.final_torque_ncm, ''), '>='), nullif(NEW.isq, ''),
    nullif(NEW.tissue_mm, ''), nullif(NEW.wall_buccal_mm, ''), nullif(NEW.wall_lingual_mm, ''), nullif(NEW.bone_height_mm,
    ''), nullif(NEW.changed, ''), nullif(NEW.dense_drilling, ''), nullif(NEW.next_size_possible, ''), nullif(NEW.closure,
    ''), nullif(NEW.timing, ''), nullif(NEW.graft, ''), nullif(NEW.uncovered_on, ''), nullif(NEW.loaded_on, ''),
    nullif(NEW.loaded, ''), nullif(NEW.birth_year, ''), nullif(NEW.sex, ''), nullif(NEW.smoking, ''), nullif(NEW.diabetes,
    ''), nullif(NEW.periodontitis, ''));
END;
CREATE VIEW reading_sheet AS
    SELECT
    patient, implant, seen_on, visit, film, reader, reading, level_mesial_mm, level_distal_mm, level_kind, imaged_length_mm,
    readable, radiolucency, probing_mm, bleeding, suppuration, mobile, pain
    FROM reading;
CREATE TRIGGER take_reading INSTEAD OF INSERT ON reading_sheet BEGIN
    INSERT INTO reading (
    patient, implant, seen_on, visit, film, reader, reading, level_mesial_mm, level_distal_mm, level_kind, imaged_length_mm,
    readable, radiolucency, probing_mm, bleeding, suppuration, mobile, pain)
    VALUES (
    NEW.patient, NEW.implant, NEW.seen_on, nullif(NEW.visit, ''), NEW.film, NEW.reader, coalesce(nullif(NEW.reading, ''),
    1), nullif(NEW.level_mesial_mm, ''), nullif(NEW.level_distal_mm, ''), nullif(NEW.level_kind, ''),
    nullif(NEW.imaged_length_mm, ''), nullif(NEW.readable, ''), nullif(NEW.radiolucency, ''), nullif(NEW.probing_mm, ''),
    nullif(NEW.bleeding, ''), nullif(NEW.suppuration, ''), nullif(NEW.mobile, ''), nullif(NEW.pain, ''));
END;
CREATE VIEW event_sheet AS
    SELECT
    patient, implant, happened_on, event, cause
    FROM event;
CREATE TRIGGER take_event INSTEAD OF INSERT ON event_sheet BEGIN
    INSERT INTO event (
    patient, implant, happened_on, event, cause)
    VALUES (
    NEW.patient, NEW.implant, NEW.happened_on, NEW.event, nullif(NEW.cause, ''));
END;
