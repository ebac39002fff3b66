-- Readers' names in byte order.
SELECT DISTINCT reader FROM reading ORDER BY reader
