-- Step 4: the list of copies.

-- Where copies of the store were written: they still hold what is erased here later.
CREATE TABLE backup_copy (
    path    TEXT NOT NULL PRIMARY KEY, -- absolute
    made_at TEXT NOT NULL              -- UTC instant; of the latest copy of that name
) STRICT;
