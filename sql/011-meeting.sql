-- Step 11: what a yardstick is read from exactly, the width that answers it, and what became of the notes on an audit.

ALTER TABLE yardstick ADD COLUMN position INTEGER NOT NULL DEFAULT 0;       -- order on the page
ALTER TABLE yardstick ADD COLUMN figure_baseline TEXT NOT NULL DEFAULT '';  -- '' = any
ALTER TABLE yardstick ADD COLUMN figure_site TEXT NOT NULL DEFAULT '';      -- '' = any
ALTER TABLE yardstick ADD COLUMN readable_width REAL CHECK (readable_width > 0); -- a 95% interval this wide, in unit, answers it

UPDATE yardstick SET position = 1, readable_width = 0.20 WHERE name = 'depth-within-half';
UPDATE yardstick SET position = 2, readable_width = 0.40, figure_baseline = 'placement', figure_site = 'mean'
    WHERE name = 'crest-at-a-year';
UPDATE yardstick SET position = 3, readable_width = 0.06 WHERE name = 'early-failure';
UPDATE yardstick SET position = 4, readable_width = 0.10 WHERE name = 'survival-five-years';
UPDATE yardstick SET position = 5, readable_width = 0.20, figure_baseline = 'placement' WHERE name = 'seen-at-a-year';

ALTER TABLE audit_note ADD COLUMN about TEXT NOT NULL DEFAULT '';       -- a yardstick or a compared figure; '' = none
ALTER TABLE audit_note ADD COLUMN answer TEXT NOT NULL DEFAULT '';      -- what came of it; '' = open
ALTER TABLE audit_note ADD COLUMN answered_by TEXT NOT NULL DEFAULT '';
