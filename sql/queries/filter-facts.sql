-- What implants can be chosen by, one row per implant in the order of enum rt_filter_fact (audit/filter.h) after id and day of
-- placement; NULL = not recorded. All of it is settled when surgery ends. The age is the year of placement less the year of
-- birth.
SELECT id, placed_on, operator, implant_line,
       CASE WHEN tooth < 30 THEN 'upper' WHEN tooth >= 30 THEN 'lower' END AS jaw,
       CASE WHEN tooth < 30 THEN 'upper ' WHEN tooth >= 30 THEN 'lower ' END
           || CASE WHEN tooth % 10 <= 3 THEN 'front' ELSE 'back' END AS region,
       tooth,
       density_planned_scale || density_planned AS density_planned,
       density_found_scale || density_found AS density_found,
       CASE stalled WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS stalled,
       CASE changed WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS changed,
       closure, timing,
       CASE graft WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS graft,
       CAST(strftime('%Y', placed_on * 86400, 'unixepoch') AS INTEGER) - birth_year AS age,
       sex, smoking, diabetes,
       CASE periodontitis WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS periodontitis
FROM implant
ORDER BY id
