-- Step 8: the house rules on trial, complete: all nine, each with what can be edited and within which bounds, and a record of
-- every edit. The rules are common practice, no source. Numbers that a rule states stand in house_rule.stated_value alone.
CREATE TABLE new_house_rule (
    name                TEXT NOT NULL PRIMARY KEY,
    position            INTEGER NOT NULL UNIQUE,
    statement           TEXT NOT NULL,
    form                TEXT NOT NULL CHECK (form IN ('followed', 'slope', 'knee')),
    settled_at          TEXT NOT NULL CHECK (settled_at IN ('placement', 'loading')), -- when the clock starts
    outcome             TEXT NOT NULL,   -- what is compared, see audit/house_rules.h
    direction           TEXT NOT NULL CHECK (direction IN ('higher', 'lower', 'value')), -- what the rule promises
    smallest_difference REAL,            -- that matters, in unit; NULL for a rule that states a value
    stated_value        REAL,            -- direction value: the value the rule states
    largest_width       REAL,            -- direction value: the interval must be narrower than this
    unit                TEXT NOT NULL,
    confounders         TEXT NOT NULL,   -- implant columns known before the rule is settled, comma separated
    harder_with_easier  INTEGER NOT NULL CHECK (harder_with_easier IN (0, 1)), -- triggered by difficulty
    origin              TEXT NOT NULL,   -- 'default', or where the present wording and numbers come from
    CHECK ((direction = 'value') = (stated_value IS NOT NULL AND largest_width IS NOT NULL)),
    CHECK ((direction = 'value') = (smallest_difference IS NULL)),
    CHECK (smallest_difference IS NULL OR smallest_difference > 0),
    CHECK (largest_width IS NULL OR largest_width > 0)
) STRICT;

CREATE TABLE new_house_rule_parameter (
    rule  TEXT NOT NULL REFERENCES new_house_rule (name),
    name  TEXT NOT NULL,
    value REAL NOT NULL,
    unit  TEXT NOT NULL,
    words TEXT NOT NULL,  -- what it is
    least REAL NOT NULL,  -- bounds of what can be set
    most  REAL NOT NULL,
    PRIMARY KEY (rule, name),
    CHECK (value BETWEEN least AND most)
) STRICT;

-- What was edited in a rule, when and by whom.
CREATE TABLE house_rule_change (
    id      INTEGER PRIMARY KEY,
    rule    TEXT NOT NULL,
    name    TEXT NOT NULL,   -- parameter or column
    old     TEXT NOT NULL,
    new     TEXT NOT NULL,
    set_at  TEXT NOT NULL,   -- UTC instant
    set_by  TEXT NOT NULL,
    origin  TEXT NOT NULL
) STRICT;

INSERT INTO new_house_rule
SELECT name, CASE name WHEN 'bone-all-round' THEN 5 WHEN 'wait-twelve-weeks' THEN 9 ELSE position END, statement, form,
       settled_at, outcome, direction, smallest_difference, stated_value, largest_width, unit, confounders,
       harder_with_easier, origin
FROM house_rule
WHERE form <> 'not_recorded';

INSERT INTO new_house_rule VALUES
    ('density-by-drill', 6, 'Judge density by what the drill brings out.', 'followed', 'placement',
     'final_torque', 'higher', 5.0, NULL, NULL, 'Ncm', 'density_planned,diameter_mm,length_mm', 0, 'default'),
    ('dense-bone-drilling', 7, 'Drill dense bone deeper and wider.', 'followed', 'placement',
     'depth_within_half', 'higher', 0.10, NULL, NULL, 'share', 'density_planned,diameter_mm,length_mm', 1, 'default'),
    ('size-in-reserve', 8, 'Keep the next size in reserve.', 'followed', 'placement',
     'low_torque', 'lower', 0.10, NULL, NULL, 'share', 'density_planned,diameter_mm,length_mm', 0, 'default');

INSERT INTO new_house_rule_parameter VALUES
    ('depth-below-crest', 'lower', 1.0, 'mm', 'least depth of the platform below the crest', -5, 8),
    ('depth-below-crest', 'upper', 2.0, 'mm', 'greatest depth of the platform below the crest', -5, 8),
    ('torque-per-millimetre', 'within', 10.0, 'Ncm', 'how near a single final torque comes to the expected one', 0, 100),
    ('bone-all-round', 'wall', 1.5, 'mm', 'least thickness of the thinner of the two walls', 0, 15),
    ('density-by-drill', 'dense_up_to', 2, 'class', 'softest class that counts as dense', 1, 3),
    ('dense-bone-drilling', 'dense_up_to', 2, 'class', 'softest class that counts as dense', 1, 3),
    ('wait-twelve-weeks', 'wait', 84.0, 'days', 'least number of days from placement to loading', 1, 730),
    ('wait-twelve-weeks', 'watch', 365.0, 'days', 'days after loading in which a failure counts', 30, 3650);

UPDATE new_house_rule_parameter AS n
SET value = (SELECT o.value FROM house_rule_parameter o WHERE o.rule = n.rule AND o.name = n.name)
WHERE EXISTS (SELECT 1 FROM house_rule_parameter o WHERE o.rule = n.rule AND o.name = n.name);

DROP TABLE house_rule_parameter;
DROP TABLE house_rule;
ALTER TABLE new_house_rule RENAME TO house_rule;
ALTER TABLE new_house_rule_parameter RENAME TO house_rule_parameter;
