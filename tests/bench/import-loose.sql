-- The same three files in the sqlite3 shell as .import takes them: columns of loose types, in which the empty cells of a
-- CSV file stay empty text. Beside import.sql, so that what typed tables cost the shell is seen.
CREATE TABLE implant (
    patient TEXT NOT NULL, implant TEXT NOT NULL, tooth INTEGER, placed_on TEXT, operator TEXT, implant_line TEXT,
    diameter_mm REAL, length_mm REAL, planned_depth_mm REAL, achieved_depth_mm REAL, depth_source TEXT,
    density_planned TEXT, density_found TEXT, stalled TEXT, stall_height_mm REAL, stall_torque_ncm REAL,
    final_torque_ncm REAL, isq INTEGER, tissue_mm REAL, wall_buccal_mm REAL, wall_lingual_mm REAL, bone_height_mm REAL,
    changed TEXT, dense_drilling TEXT, next_size_possible TEXT, closure TEXT, timing TEXT, graft TEXT, uncovered_on TEXT,
    loaded_on TEXT, loaded TEXT, birth_year INTEGER, sex TEXT, smoking TEXT, diabetes TEXT, periodontitis TEXT,
    UNIQUE (patient, implant));
CREATE TABLE reading (
    patient TEXT NOT NULL, implant TEXT NOT NULL, seen_on TEXT NOT NULL, visit TEXT, film TEXT NOT NULL, reader TEXT NOT NULL,
    reading INTEGER NOT NULL, level_mesial_mm REAL, level_distal_mm REAL, level_kind TEXT, imaged_length_mm REAL,
    readable TEXT, radiolucency TEXT, probing_mm REAL, bleeding TEXT, suppuration TEXT, mobile TEXT, pain TEXT,
    UNIQUE (patient, implant, seen_on, film, reader, reading));
CREATE TABLE event (
    patient TEXT NOT NULL, implant TEXT NOT NULL, happened_on TEXT NOT NULL, event TEXT NOT NULL, cause TEXT,
    UNIQUE (patient, implant, happened_on, event));
CREATE INDEX event_of_implant ON event (implant);
