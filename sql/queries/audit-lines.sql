-- Implant lines in byte order.
SELECT DISTINCT implant_line FROM implant WHERE implant_line IS NOT NULL ORDER BY implant_line
