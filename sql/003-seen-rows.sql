-- Step 3: which rows each file held, so that a sheet that is all of the records tells what is gone from it, and so that a file
-- can be taken back out later without losing what other files hold too.

-- The rows of the batch's kind that its file brought or met, as runs of ids. Batches older than this step have none.
CREATE TABLE seen_rows (
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    first_id INTEGER NOT NULL,
    last_id  INTEGER NOT NULL CHECK (last_id >= first_id),
    PRIMARY KEY (batch_id, first_id)
) STRICT, WITHOUT ROWID;

-- The whole sheet the row was gone from; NULL = it was there, or there was none. A gone row is never deleted.
ALTER TABLE implant ADD COLUMN gone_batch_id INTEGER REFERENCES batch (id);
ALTER TABLE reading ADD COLUMN gone_batch_id INTEGER REFERENCES batch (id);
ALTER TABLE event ADD COLUMN gone_batch_id INTEGER REFERENCES batch (id);
CREATE INDEX gone_implant ON implant (id) WHERE gone_batch_id IS NOT NULL;
CREATE INDEX gone_reading ON reading (id) WHERE gone_batch_id IS NOT NULL;
CREATE INDEX gone_event ON event (id) WHERE gone_batch_id IS NOT NULL;
