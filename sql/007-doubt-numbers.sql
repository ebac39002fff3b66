-- Step 7: the number of a doubt, which is handed out on lists, is never given to another one, also not after an undo took
-- the last ones away.
PRAGMA defer_foreign_keys = ON; -- answers name doubts, which are put back before the end

CREATE TABLE doubt_before AS SELECT * FROM doubt;
DROP TABLE doubt;

CREATE TABLE doubt (
    id              INTEGER PRIMARY KEY AUTOINCREMENT,
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
INSERT INTO doubt SELECT * FROM doubt_before ORDER BY id;
DROP TABLE doubt_before;
CREATE INDEX doubt_of_implant ON doubt (implant_id) WHERE implant_id IS NOT NULL;
CREATE INDEX doubt_of_batch ON doubt (batch_id);
