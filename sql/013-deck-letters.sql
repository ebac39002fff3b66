-- Step 13: which letter stands for an operator or an implant line in decks, so that it stays the same from deck to deck. Only a hash of
-- the label is kept; a letter that was given is never given to another one.

CREATE TABLE deck_letter (
    kind       TEXT NOT NULL CHECK (kind IN ('operator', 'line')),
    label_hash TEXT NOT NULL,
    place      INTEGER NOT NULL CHECK (place >= 0), -- in the alphabet
    PRIMARY KEY (kind, label_hash),
    UNIQUE (kind, place)
) STRICT;
