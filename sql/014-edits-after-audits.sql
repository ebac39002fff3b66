-- Step 14: whether an edit of a house rule came after a recorded audit, told by the store itself: an audit and an edit of the same second
-- have the same instant.

ALTER TABLE house_rule_change ADD COLUMN after_audit INTEGER NOT NULL DEFAULT 0 CHECK (after_audit IN (0, 1));

UPDATE house_rule_change SET after_audit = coalesce(set_at > (SELECT min(recorded_at) FROM audit), 0);
