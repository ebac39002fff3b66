-- When the records last changed: the time of the last load in force.
SELECT max(loaded_at) FROM batch WHERE undone_at IS NULL;
