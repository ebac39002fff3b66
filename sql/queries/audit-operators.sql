-- Operators' labels in byte order.
SELECT DISTINCT operator FROM implant WHERE operator IS NOT NULL ORDER BY operator
