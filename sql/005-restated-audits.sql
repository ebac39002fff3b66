-- Step 5: audits recorded while a batch was in force that was taken back out later.
ALTER TABLE audit ADD COLUMN restated_at TEXT; -- UTC instant of the undoing; NULL = stands
