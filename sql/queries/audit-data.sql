-- Everything the figures of a period depend on, one JSON text per row in an order that does not depend on the order of
-- loading: for the hash of the data.
SELECT row_text FROM (
    SELECT json_array('implant', p.label, i.label, i.tooth, i.placed_on, i.operator, i.diameter_mm, i.length_mm,
                      i.planned_depth_mm, i.achieved_depth_mm, i.depth_source, i.density_planned,
                      i.density_planned_scale, i.density_found, i.density_found_scale, i.stalled, i.stall_height_mm,
                      i.stall_torque_ncm, i.stall_torque_capped, i.final_torque_ncm, i.final_torque_capped,
                      i.tissue_mm, i.smoking, i.implant_line, CASE WHEN i.loaded_on <= :last_day THEN i.loaded_on END,
                      i.loaded_on > :last_day, i.loaded, i.wall_buccal_mm, i.wall_lingual_mm, i.changed,
                      i.dense_drilling, i.next_size_possible, i.closure, i.graft, i.periodontitis,
                      i.diabetes) AS row_text
    FROM implant i JOIN patient p ON p.id = i.patient_id
    WHERE i.placed_on <= :last_day
    UNION ALL
    SELECT json_array('reading', p.label, i.label, r.seen_on, r.film, r.reader, r.reading, r.level_mesial_mm,
                      r.level_distal_mm, r.level_kind, r.readable, r.mobile, r.radiolucency, r.pain,
                      r.suppuration, r.bleeding, r.probing_mm)
    FROM reading r JOIN implant i ON i.id = r.implant_id JOIN patient p ON p.id = i.patient_id
    WHERE r.seen_on <= :last_day AND i.placed_on <= :last_day
    UNION ALL
    SELECT json_array('event', p.label, i.label, e.happened_on, e.event)
    FROM event e JOIN patient p ON p.id = e.patient_id LEFT JOIN implant i ON i.id = e.implant_id
    WHERE e.happened_on <= :last_day
    UNION ALL
    SELECT json_array('contradiction', p.label, i.label, d.check_name, d.blocks, d.state = 'left')
    FROM doubt d LEFT JOIN implant i ON i.id = d.implant_id LEFT JOIN patient p ON p.id = d.patient_id
    WHERE d.weight = 'contradiction' AND d.state <> 'mended'
    UNION ALL
    SELECT json_array('setting', name, value)
    FROM setting
    WHERE name IN ('complete_since', 'recall_interval_months', 'primary_reader')
    UNION ALL
    SELECT json_array('house_rule', name, statement, form, settled_at, outcome, direction, smallest_difference,
                      stated_value, largest_width, unit, confounders, harder_with_easier)
    FROM house_rule
    UNION ALL
    SELECT json_array('house_rule_parameter', rule, name, value) FROM house_rule_parameter
    UNION ALL
    SELECT json_array('class_cut', quantity, position, label, lower_cut, lower_included, upper_cut, upper_included)
    FROM class_cut c
    WHERE valid_from = (SELECT max(valid_from) FROM class_cut o
                        WHERE o.quantity = c.quantity AND o.valid_from <= :last_day)
    UNION ALL
    SELECT json_array('yardstick', name, figure_section, figure_measure, figure_grouping, figure_level, figure_at,
                      figure_baseline, figure_site, readable_width)
    FROM yardstick
    UNION ALL
    SELECT json_array('target', yardstick, value, direction, valid_from)
    FROM yardstick_target
    WHERE valid_from <= :last_day)
ORDER BY row_text
