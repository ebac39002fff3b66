-- Step 2: what the practice answers to a doubt.

-- Every answer given, in order; the last one of a doubt counts. It outlives the doubt's being mended, so that the same
-- ground raised again finds it.
CREATE TABLE doubt_answer (
    id             INTEGER PRIMARY KEY,
    doubt_id       INTEGER NOT NULL REFERENCES doubt (id),
    state          TEXT NOT NULL CHECK (state IN ('replied', 'left', 'waiting')), -- waiting: the answer was withdrawn
    reply          TEXT NOT NULL DEFAULT '', -- what was found out; why, where it is left as it is
    answered_by    TEXT NOT NULL DEFAULT '',
    answered_at    TEXT NOT NULL,            -- UTC instant
    after_batch_id INTEGER NOT NULL REFERENCES batch (id), -- the latest batch at that time
    CHECK (state <> 'replied' OR reply <> ''),
    CHECK (state <> 'left' OR (reply <> '' AND answered_by <> ''))
) STRICT;
CREATE INDEX answer_of_doubt ON doubt_answer (doubt_id);
CREATE INDEX doubt_of_batch ON doubt (batch_id);
