-- One figure row of a recorded audit.
SELECT n_implants, n_patients, n_events, n_due, value, lower, upper, state, remark, method
FROM figure
WHERE audit_id = :audit_id AND section = :section AND measure = :measure AND grouping = :grouping AND level = :level
  AND at IS :at AND baseline = :baseline AND site = :site AND unit_of_analysis = 'implant'
