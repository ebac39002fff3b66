-- Step 1: the whole schema of a practice's store.
--
-- Conventions. Dates are INTEGER day numbers (day 0 = 1970-01-01, proleptic Gregorian). Yes/no facts are 1/0.
-- NULL means "not recorded": it is never zero and never "no". Lengths are mm, torques Ncm. Signs: depths are of
-- the platform relative to the crest, positive = below the crest; levels are of the bone relative to the
-- platform, positive = crest above the platform; stall heights are of the platform above the crest.
-- loaded_at, recorded_at and the like are UTC instants, YYYY-MM-DDTHH:MM:SSZ.

-- Settings of the practice, one per row.
--  complete_since          ISO date: from here on every placement is in the records; empty = not stated
--  practice_name           printed on every page
--  recall_interval_months  how long a patient may stay away before counting as lost
--  primary_reader          the reader whose reading 1 is analysed; empty = no reader named
--  deck_threshold          cells of 1 to this number less one are withheld from a deck
--  fictional               1: the store holds the invented practice, and every page says so; absent otherwise
--  hash_salt               hex; makes the hashes of refused cells this store's own
CREATE TABLE setting (
    name  TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL,
    CHECK (name <> 'recall_interval_months' OR (value GLOB '[0-9]*' AND CAST(value AS INTEGER) BETWEEN 1 AND 120)),
    CHECK (name <> 'deck_threshold' OR (value GLOB '[0-9]*' AND CAST(value AS INTEGER) BETWEEN 2 AND 100)),
    CHECK (name <> 'complete_since' OR value = '' OR value GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
) STRICT;

INSERT INTO setting (name, value) VALUES
    ('complete_since', ''),
    ('practice_name', ''),
    ('recall_interval_months', '12'),
    ('primary_reader', ''),
    ('deck_threshold', '5'),
    ('hash_salt', lower(hex(randomblob(16))));

-- One row per loaded file.
CREATE TABLE batch (
    id             INTEGER PRIMARY KEY,
    file_name      TEXT NOT NULL,             -- base name, without its folder
    kind           TEXT NOT NULL CHECK (kind IN ('implants', 'followups', 'events')),
    sha256         TEXT NOT NULL CHECK (length(sha256) = 64), -- of the file's bytes
    loaded_at      TEXT NOT NULL,             -- UTC instant
    program        TEXT NOT NULL,             -- version that loaded it
    whole          INTEGER NOT NULL DEFAULT 0 CHECK (whole IN (0, 1)), -- 1: the file is all of the records
    map_text       TEXT,                      -- the column map used; NULL = native file
    rows_read      INTEGER NOT NULL DEFAULT 0 CHECK (rows_read >= 0), -- data rows in the file
    rows_new       INTEGER NOT NULL DEFAULT 0 CHECK (rows_new >= 0),
    rows_changed   INTEGER NOT NULL DEFAULT 0 CHECK (rows_changed >= 0),   -- corrections of known rows
    rows_unchanged INTEGER NOT NULL DEFAULT 0 CHECK (rows_unchanged >= 0), -- known rows, same values
    rows_refused   INTEGER NOT NULL DEFAULT 0 CHECK (rows_refused >= 0),
    rows_mended    INTEGER NOT NULL DEFAULT 0 CHECK (rows_mended >= 0),    -- rows refused earlier, now in
    undone_at      TEXT                       -- UTC instant; NULL = in force
) STRICT;

-- Patients by the practice's own pseudonym. What is known about them stands in their implants' rows, as it was
-- recorded there; view patient_facts says what those rows agree on.
CREATE TABLE patient (
    id       INTEGER PRIMARY KEY,
    label    TEXT NOT NULL UNIQUE CHECK (label <> ''),
    batch_id INTEGER NOT NULL REFERENCES batch (id) -- first seen in
) STRICT;

-- One row per implant placed: the facts of its surgery and of the patient at that time.
CREATE TABLE implant (
    id                  INTEGER PRIMARY KEY,
    patient_id          INTEGER NOT NULL REFERENCES patient (id),
    label               TEXT NOT NULL CHECK (label <> ''), -- the practice's own, else TOOTH@DATE (frozen)
    tooth               INTEGER CHECK (tooth / 10 BETWEEN 1 AND 4 AND tooth % 10 BETWEEN 1 AND 8), -- ISO 3950
    placed_on           INTEGER,              -- day; NULL = not recorded
    operator            TEXT,
    implant_line        TEXT,
    diameter_mm         REAL CHECK (diameter_mm BETWEEN 2 AND 8),
    length_mm           REAL CHECK (length_mm BETWEEN 4 AND 60),
    planned_depth_mm    REAL CHECK (planned_depth_mm BETWEEN -5 AND 8),
    achieved_depth_mm   REAL CHECK (achieved_depth_mm BETWEEN -5 AND 8),
    depth_source        TEXT CHECK (depth_source IN ('surgery', 'film')), -- of achieved_depth_mm
    density_planned     INTEGER CHECK (density_planned BETWEEN 1 AND 4),
    density_planned_scale TEXT CHECK (density_planned_scale IN ('D', 'LZ')), -- never pooled across scales
    density_found       INTEGER CHECK (density_found BETWEEN 1 AND 4),
    density_found_scale TEXT CHECK (density_found_scale IN ('D', 'LZ')),
    stalled             INTEGER CHECK (stalled IN (0, 1)), -- the motor stalled before the planned depth
    stall_height_mm     REAL CHECK (stall_height_mm BETWEEN -8 AND 30), -- platform above the crest at the stall
    stall_torque_ncm    REAL CHECK (stall_torque_ncm BETWEEN 0 AND 200),
    stall_torque_capped INTEGER CHECK (stall_torque_capped IN (0, 1)), -- 1: at least this, the device's limit
    final_torque_ncm    REAL CHECK (final_torque_ncm BETWEEN 0 AND 200),
    final_torque_capped INTEGER CHECK (final_torque_capped IN (0, 1)),
    isq                 INTEGER CHECK (isq BETWEEN 1 AND 100), -- resonance reading at placement
    tissue_mm           REAL CHECK (tissue_mm BETWEEN 0 AND 10), -- soft tissue height above the crest
    wall_buccal_mm      REAL CHECK (wall_buccal_mm BETWEEN 0 AND 15),
    wall_lingual_mm     REAL CHECK (wall_lingual_mm BETWEEN 0 AND 15),
    bone_height_mm      REAL CHECK (bone_height_mm BETWEEN 0 AND 60),
    changed             INTEGER CHECK (changed IN (0, 1)), -- swapped for another size at surgery
    dense_drilling      INTEGER CHECK (dense_drilling IN (0, 1)), -- the dense-bone drills were used
    next_size_possible  INTEGER CHECK (next_size_possible IN (0, 1)), -- a wider implant would have fitted
    closure             TEXT CHECK (closure IN ('one-stage', 'two-stage')),
    timing              TEXT CHECK (timing IN ('type 1', 'type 2', 'type 3', 'type 4',
                                               'immediate', 'early', 'late', 'healed')),
    graft               INTEGER CHECK (graft IN (0, 1)),
    uncovered_on        INTEGER,
    loaded_on           INTEGER,
    loaded              INTEGER CHECK (loaded IN (0, 1)), -- 0: known not to be loaded yet
    birth_year          INTEGER CHECK (birth_year BETWEEN 1900 AND 2100), -- of the patient, as this row says
    sex                 TEXT CHECK (sex IN ('F', 'M', 'other')),
    smoking             TEXT CHECK (smoking IN ('never', 'former', 'current')), -- at this surgery
    diabetes            TEXT CHECK (diabetes IN ('none', 'controlled', 'uncontrolled')),
    periodontitis       INTEGER CHECK (periodontitis IN (0, 1)),
    batch_id            INTEGER NOT NULL REFERENCES batch (id), -- came in with
    source_batch_id     INTEGER NOT NULL REFERENCES batch (id), -- last written by
    source_line         INTEGER NOT NULL,                       -- and by which line of that file
    UNIQUE (patient_id, label),
    CHECK ((density_planned IS NULL) = (density_planned_scale IS NULL)),
    CHECK ((density_found IS NULL) = (density_found_scale IS NULL)),
    CHECK ((stall_torque_ncm IS NULL) = (stall_torque_capped IS NULL)),
    CHECK ((final_torque_ncm IS NULL) = (final_torque_capped IS NULL))
) STRICT;

-- One row per follow-up row: the implant was seen; readings of a film and clinical findings where recorded.
CREATE TABLE reading (
    id                  INTEGER PRIMARY KEY,
    implant_id          INTEGER NOT NULL REFERENCES implant (id),
    seen_on             INTEGER NOT NULL,
    visit               TEXT CHECK (visit IN ('placement', 'uncovering', 'loading', 'review')),
    film                TEXT NOT NULL DEFAULT '', -- which film, '' = not named
    reader              TEXT NOT NULL DEFAULT '', -- who read it, '' = not named
    reading             INTEGER NOT NULL DEFAULT 1 CHECK (reading BETWEEN 1 AND 99),
    level_mesial_raw_mm REAL CHECK (level_mesial_raw_mm BETWEEN -20 AND 8), -- as recorded
    level_distal_raw_mm REAL CHECK (level_distal_raw_mm BETWEEN -20 AND 8),
    level_mesial_mm     REAL, -- calibrated: raw * calibration; raw where calibration is NULL. Analyse these.
    level_distal_mm     REAL,
    level_kind          TEXT NOT NULL DEFAULT 'crest' CHECK (level_kind IN ('crest', 'contact')),
    imaged_length_mm    REAL CHECK (imaged_length_mm BETWEEN 2 AND 120), -- implant length measured on the film
    calibration         REAL CHECK (calibration > 0), -- length_mm / imaged_length_mm; NULL = not calibrated
    readable            INTEGER CHECK (readable IN (0, 1)), -- 0: a film was taken and cannot be read
    radiolucency        INTEGER CHECK (radiolucency IN (0, 1)),
    probing_mm          REAL CHECK (probing_mm BETWEEN 0 AND 20),
    bleeding            INTEGER CHECK (bleeding IN (0, 1)),
    suppuration         INTEGER CHECK (suppuration IN (0, 1)),
    mobile              INTEGER CHECK (mobile IN (0, 1)),
    pain                INTEGER CHECK (pain IN (0, 1)),
    batch_id            INTEGER NOT NULL REFERENCES batch (id),
    source_batch_id     INTEGER NOT NULL REFERENCES batch (id),
    source_line         INTEGER NOT NULL,
    UNIQUE (implant_id, seen_on, film, reader, reading)
) STRICT;

-- What happened to an implant, or (implant_id NULL) to the whole patient.
CREATE TABLE event (
    id              INTEGER PRIMARY KEY,
    patient_id      INTEGER NOT NULL REFERENCES patient (id),
    implant_id      INTEGER REFERENCES implant (id), -- NULL = the whole patient
    happened_on     INTEGER NOT NULL,
    event           TEXT NOT NULL CHECK (event IN ('removed', 'elective', 'unused', 'complication',
                                                   'moved_away', 'died', 'remade')),
    cause           TEXT,
    batch_id        INTEGER NOT NULL REFERENCES batch (id),
    source_batch_id INTEGER NOT NULL REFERENCES batch (id),
    source_line     INTEGER NOT NULL
) STRICT;
CREATE UNIQUE INDEX event_key ON event (patient_id, coalesce(implant_id, 0), happened_on, event);
CREATE INDEX event_of_implant ON event (implant_id) WHERE implant_id IS NOT NULL;

-- What a patient's implant rows agree on: NULL where none says it or two rows contradict each other.
CREATE VIEW patient_facts AS
SELECT p.id AS patient_id,
       p.label AS label,
       CASE WHEN min(i.birth_year) = max(i.birth_year) THEN min(i.birth_year) END AS birth_year,
       CASE WHEN min(i.sex) = max(i.sex) THEN min(i.sex) END AS sex,
       CASE WHEN min(i.smoking) = max(i.smoking) THEN min(i.smoking) END AS smoking,
       CASE WHEN min(i.diabetes) = max(i.diabetes) THEN min(i.diabetes) END AS diabetes,
       CASE WHEN min(i.periodontitis) = max(i.periodontitis) THEN min(i.periodontitis) END AS periodontitis
FROM patient p
LEFT JOIN implant i ON i.patient_id = p.id
GROUP BY p.id;

-- Old and new values of every field that a batch changed in a row that was there before, so that it can be undone.
CREATE TABLE history (
    id          INTEGER PRIMARY KEY,
    batch_id    INTEGER NOT NULL REFERENCES batch (id),
    table_name  TEXT NOT NULL CHECK (table_name IN ('implant', 'reading', 'event', 'doubt', 'refused_row')),
    row_id      INTEGER NOT NULL,
    column_name TEXT NOT NULL,
    old_value   ANY,
    new_value   ANY
) STRICT;
CREATE INDEX history_of_row ON history (table_name, row_id);
CREATE INDEX history_of_batch ON history (batch_id);

-- Rows that could not enter; tried again at every later load. The id cells are kept only as salted hashes and the
-- free text cells sealed under the id (which the store does not hold); numbers, dates and codes are plain.
CREATE TABLE refused_row (
    id              INTEGER PRIMARY KEY,
    batch_id        INTEGER NOT NULL REFERENCES batch (id), -- first refused in
    line            INTEGER NOT NULL,
    kind            TEXT NOT NULL CHECK (kind IN ('implants', 'followups', 'events')),
    key_hash        TEXT NOT NULL,  -- of the row's key as typed: a later row with this key replaces it
    patient_hash    TEXT NOT NULL,  -- finds a patient's refused rows again when they are to be forgotten
    implant_hash    TEXT NOT NULL,  -- of (patient, implant): meets an implant that arrives later
    cells_hash      TEXT NOT NULL,  -- of all cells: the same row again is no new refusal
    cells           TEXT,           -- name=value lines for another try; NULL = only a corrected file can mend it
    mended_batch_id INTEGER REFERENCES batch (id), -- entered, or was replaced, with that batch; NULL = waiting
    UNIQUE (kind, cells_hash)
) STRICT;
CREATE INDEX refused_by_key ON refused_row (kind, key_hash) WHERE mended_batch_id IS NULL;
CREATE INDEX refused_by_implant ON refused_row (implant_hash) WHERE mended_batch_id IS NULL;

-- What is missing, implausible or contradictory. The id is the number shown to staff and never changes.
CREATE TABLE doubt (
    id              INTEGER PRIMARY KEY,
    batch_id        INTEGER NOT NULL REFERENCES batch (id), -- raised by
    check_name      TEXT NOT NULL,  -- which check: a name under sql/checks/, or refused
    subject         TEXT NOT NULL,  -- what it is about: table:row id, or table:all
    source_batch_id INTEGER REFERENCES batch (id), -- the file the record stands in; NULL = no one file
    line            INTEGER NOT NULL DEFAULT 0, -- of that file; 0 = the file as a whole
    column_name     TEXT NOT NULL DEFAULT '',
    value           TEXT NOT NULL DEFAULT '',   -- as typed; id and text cells of refused rows only as a hash
    patient_id      INTEGER REFERENCES patient (id),
    implant_id      INTEGER REFERENCES implant (id),
    weight          TEXT NOT NULL CHECK (weight IN ('refused', 'contradiction', 'implausible', 'missing', 'notice')),
    blocks          TEXT NOT NULL DEFAULT '',   -- figure sections that leave the case out because of it
    reason          TEXT NOT NULL,
    remedy          TEXT NOT NULL,
    state           TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'replied', 'left', 'mended')),
    mended_batch_id INTEGER REFERENCES batch (id),
    UNIQUE (check_name, subject, column_name, value)
) STRICT;
CREATE INDEX doubt_of_implant ON doubt (implant_id) WHERE implant_id IS NOT NULL;

-- Class cuts, dated: the set with the latest valid_from not after a period's first day is in force. One row per
-- class, in order. Comparisons are made in integer hundredths.
CREATE TABLE class_cut (
    quantity       TEXT NOT NULL CHECK (quantity IN ('depth', 'tissue', 'torque')),
    valid_from     INTEGER NOT NULL,  -- day
    position       INTEGER NOT NULL CHECK (position >= 1),
    label          TEXT NOT NULL,
    lower_cut      REAL,              -- NULL = open
    lower_included INTEGER NOT NULL CHECK (lower_included IN (0, 1)),
    upper_cut      REAL,
    upper_included INTEGER NOT NULL CHECK (upper_included IN (0, 1)),
    unit           TEXT NOT NULL,
    origin         TEXT NOT NULL,     -- 'default', or who set it and why
    PRIMARY KEY (quantity, valid_from, position),
    CHECK (lower_cut IS NOT NULL OR upper_cut IS NOT NULL)
) STRICT;

INSERT INTO class_cut VALUES
    ('depth', -719162, 1, '<0 mm', NULL, 0, 0.0, 0, 'mm', 'default'),
    ('depth', -719162, 2, '0 to <1 mm', 0.0, 1, 1.0, 0, 'mm', 'default'),
    ('depth', -719162, 3, '1 to 2 mm', 1.0, 1, 2.0, 1, 'mm', 'default'),
    ('depth', -719162, 4, '>2 mm', 2.0, 0, NULL, 0, 'mm', 'default'),
    ('tissue', -719162, 1, '<2 mm', NULL, 0, 2.0, 0, 'mm', 'default'),
    ('tissue', -719162, 2, '2 to <3 mm', 2.0, 1, 3.0, 0, 'mm', 'default'),
    ('tissue', -719162, 3, '>=3 mm', 3.0, 1, NULL, 0, 'mm', 'default'),
    ('torque', -719162, 1, '<20 Ncm', NULL, 0, 20.0, 0, 'Ncm', 'default'),
    ('torque', -719162, 2, '20 to <35 Ncm', 20.0, 1, 35.0, 0, 'Ncm', 'default'),
    ('torque', -719162, 3, '35 to <50 Ncm', 35.0, 1, 50.0, 0, 'Ncm', 'default'),
    ('torque', -719162, 4, '>=50 Ncm', 50.0, 1, NULL, 0, 'Ncm', 'default');

-- What a target can be set on. figure_* select the figure row that is judged ('' = any).
CREATE TABLE yardstick (
    name            TEXT NOT NULL PRIMARY KEY,
    statement       TEXT NOT NULL,
    figure_section  TEXT NOT NULL,
    figure_measure  TEXT NOT NULL,
    figure_grouping TEXT NOT NULL DEFAULT '',
    figure_level    TEXT NOT NULL DEFAULT '',
    figure_at       REAL,
    unit            TEXT NOT NULL
) STRICT;

-- Targets, dated; the one in force on a period's first day judges it. No row = no target set.
CREATE TABLE yardstick_target (
    id         INTEGER PRIMARY KEY,
    yardstick  TEXT NOT NULL REFERENCES yardstick (name),
    value      REAL,               -- NULL = the target was withdrawn
    direction  TEXT NOT NULL CHECK (direction IN ('at_least', 'at_most')),
    origin     TEXT NOT NULL,      -- where the value comes from
    valid_from INTEGER NOT NULL,   -- day
    set_by     TEXT NOT NULL,
    UNIQUE (yardstick, valid_from)
) STRICT;

INSERT INTO yardstick (name, statement, figure_section, figure_measure, figure_grouping, figure_level, figure_at, unit)
VALUES
    ('depth-within-half', 'share of implants placed within 0.5 mm of the planned depth', 'depth', 'depth_within_half',
     'window', '12 months', NULL, 'share'),
    ('early-failure', 'share of implants lost within 180 days of placement', 'survival', 'early_failure',
     'window', '12 months', NULL, 'share'),
    ('survival-five-years', 'share of implants still in place five years after placement', 'survival', 'survival',
     'censoring', 'last sighting', 5, 'share'),
    ('seen-at-a-year', 'share of implants with a readable film one year after placement', 'flow', 'read_share',
     'window', '12 months', 12, 'share'),
    ('crest-at-a-year', 'mean change of the crest one year after placement', 'crest', 'crest_change',
     'window', '12 months', 12, 'mm');

-- House rules on trial; the practice edits them. A rule without stored fields is "not recorded".
CREATE TABLE house_rule (
    name                TEXT NOT NULL PRIMARY KEY,
    position            INTEGER NOT NULL UNIQUE,
    statement           TEXT NOT NULL,
    form                TEXT NOT NULL CHECK (form IN ('followed', 'slope', 'knee', 'not_recorded')),
    settled_at          TEXT NOT NULL CHECK (settled_at IN ('placement', 'loading')), -- when the clock starts
    outcome             TEXT NOT NULL,   -- figure measure that is compared
    direction           TEXT NOT NULL CHECK (direction IN ('higher', 'lower', 'value')), -- what the rule promises
    smallest_difference REAL,            -- that matters, in unit; NULL for a rule that states a value
    stated_value        REAL,            -- direction value: the value the rule states
    largest_width       REAL,            -- direction value: the interval must be narrower than this
    unit                TEXT NOT NULL,
    confounders         TEXT NOT NULL,   -- implant columns known before surgery, comma separated
    harder_with_easier  INTEGER NOT NULL CHECK (harder_with_easier IN (0, 1)), -- triggered by difficulty
    origin              TEXT NOT NULL,   -- 'default', or who set it and when
    CHECK ((direction = 'value') = (stated_value IS NOT NULL AND largest_width IS NOT NULL)),
    CHECK (direction = 'value' OR form = 'not_recorded' OR smallest_difference > 0)
) STRICT;

-- The numbers inside a rule.
CREATE TABLE house_rule_parameter (
    rule  TEXT NOT NULL REFERENCES house_rule (name),
    name  TEXT NOT NULL,
    value REAL NOT NULL,
    unit  TEXT NOT NULL,
    PRIMARY KEY (rule, name)
) STRICT;

INSERT INTO house_rule VALUES
    ('depth-below-crest', 1, 'Put the platform 1 to 2 mm below the crest.', 'followed', 'placement',
     'exposure_share', 'lower', 0.10, NULL, NULL, 'share', 'tissue_mm,smoking,density_planned,periodontitis', 0,
     'default'),
    ('tissue-plus-depth', 2, 'Make tissue height plus depth reach about 4 mm.', 'knee', 'placement',
     'crest_change', 'value', NULL, 4.0, 1.0, 'mm', 'smoking,density_planned,periodontitis', 0, 'default'),
    ('torque-per-millimetre', 3, 'When the motor stalls at 30 Ncm with the implant 2 mm proud, expect about 10 Ncm more for each further millimetre.',
     'slope', 'placement', 'torque_per_mm', 'value', NULL, 10.0, 5.0, 'Ncm/mm', 'diameter_mm,length_mm', 0,
     'default'),
    ('never-stalled', 4, 'When it never stalls, change the implant or close over it.', 'followed', 'placement',
     'early_failure', 'lower', 0.05, NULL, NULL, 'share', 'density_planned,smoking,diameter_mm,length_mm', 1,
     'default'),
    ('density-by-drill', 5, 'Judge density by what the drill brings out.', 'not_recorded', 'placement',
     '', 'higher', NULL, NULL, NULL, '', '', 0, 'default'),
    ('bone-all-round', 6, 'Keep 1.5 mm of bone all round.', 'followed', 'placement',
     'crest_change', 'higher', 0.30, NULL, NULL, 'mm', 'tissue_mm,smoking,density_planned,periodontitis', 0,
     'default'),
    ('wait-twelve-weeks', 7, 'Wait about 12 weeks before loading.', 'followed', 'loading',
     'failure_after_loading', 'lower', 0.05, NULL, NULL, 'share', 'density_found,smoking,diabetes,graft', 0,
     'default');

INSERT INTO house_rule_parameter VALUES
    ('depth-below-crest', 'lower', 1.0, 'mm'),
    ('depth-below-crest', 'upper', 2.0, 'mm'),
    ('tissue-plus-depth', 'sum', 4.0, 'mm'),
    ('torque-per-millimetre', 'stall_torque', 30.0, 'Ncm'),
    ('torque-per-millimetre', 'stall_height', 2.0, 'mm'),
    ('torque-per-millimetre', 'slope', 10.0, 'Ncm/mm'),
    ('bone-all-round', 'wall', 1.5, 'mm'),
    ('wait-twelve-weeks', 'wait', 84.0, 'days');

-- Recorded audits: the figures of a period as they stood when the audit was written.
CREATE TABLE audit (
    id          INTEGER PRIMARY KEY,
    first_day   INTEGER NOT NULL,
    last_day    INTEGER NOT NULL CHECK (last_day >= first_day),
    data_hash   TEXT NOT NULL,     -- SHA-256 of the records and settings the figures came from
    program     TEXT NOT NULL,     -- version that computed them
    recorded_at TEXT NOT NULL,     -- UTC instant
    UNIQUE (first_day, last_day, data_hash, program)
) STRICT;

-- The figure rows of an audit, in order. Numbers that do not apply are NULL.
CREATE TABLE figure (
    audit_id         INTEGER NOT NULL REFERENCES audit (id),
    position         INTEGER NOT NULL,
    section          TEXT NOT NULL CHECK (section IN ('flow', 'depth', 'stability', 'crest', 'survival', 'success',
                                                      'rules', 'operators', 'readers', 'yardsticks', 'precision')),
    measure          TEXT NOT NULL,
    grouping         TEXT NOT NULL,
    level            TEXT NOT NULL,
    at               REAL,
    n_implants       INTEGER,
    n_patients       INTEGER,
    n_events         INTEGER,
    n_due            INTEGER,
    value            REAL,
    lower            REAL,
    upper            REAL,
    p                REAL,
    p_adjusted       REAL,
    unit             TEXT NOT NULL,
    baseline         TEXT NOT NULL,
    site             TEXT NOT NULL,
    unit_of_analysis TEXT NOT NULL,
    method           TEXT NOT NULL,
    state            TEXT NOT NULL CHECK (state IN ('ok', 'too_few', 'undefined', 'withheld')),
    remark           TEXT NOT NULL,
    PRIMARY KEY (audit_id, position)
) STRICT;

-- Decisions taken on an audit and when they are looked at again.
CREATE TABLE audit_note (
    id          INTEGER PRIMARY KEY,
    first_day   INTEGER NOT NULL,  -- the audit's period
    last_day    INTEGER NOT NULL,
    section     TEXT NOT NULL DEFAULT '',
    decision    TEXT NOT NULL CHECK (decision <> ''),
    written_on  INTEGER NOT NULL,
    written_by  TEXT NOT NULL DEFAULT '',
    re_audit_on INTEGER,           -- NULL = no date set
    answered_on INTEGER            -- reported on by the audit of that period's last day; NULL = open
) STRICT;

-- Decks handed out, and every cell of them, so that a later deck cannot be subtracted from an earlier one.
CREATE TABLE issued_deck (
    id         INTEGER PRIMARY KEY,
    first_day  INTEGER NOT NULL,
    last_day   INTEGER NOT NULL,
    threshold  INTEGER NOT NULL,
    data_hash  TEXT NOT NULL,
    issued_at  TEXT NOT NULL       -- UTC instant
) STRICT;

CREATE TABLE issued_deck_cell (
    deck_id  INTEGER NOT NULL REFERENCES issued_deck (id),
    cell     TEXT NOT NULL,        -- key of the figure row and which of its counts
    patients INTEGER NOT NULL,     -- patients behind the cell
    count    REAL,                 -- the number; kept even when it was withheld
    shown    INTEGER NOT NULL CHECK (shown IN (0, 1)),
    PRIMARY KEY (deck_id, cell)
) STRICT;
