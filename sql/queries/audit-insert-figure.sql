-- One figure row of a recorded audit.
INSERT INTO figure (audit_id, position, section, measure, grouping, level, at, n_implants, n_patients, n_events, n_due,
                    value, lower, upper, p, p_adjusted, unit, baseline, site, unit_of_analysis, method, state, remark)
VALUES (:audit_id, :position, :section, :measure, :grouping, :level, :at, :n_implants, :n_patients, :n_events, :n_due,
        :value, :lower, :upper, :p, :p_adjusted, :unit, :baseline, :site, :unit_of_analysis, :method, :state, :remark)
