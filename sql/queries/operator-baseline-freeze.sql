-- Freeze one term. A baseline that is there already keeps its terms; what was computed for it later (another level, its limits)
-- is taken when it is of the same baseline.
INSERT INTO operator_baseline (operator, term, value, fitted_to, recorded_at)
SELECT :operator, :term, :value, :fitted_to, :recorded_at
WHERE NOT EXISTS (SELECT 1 FROM operator_baseline WHERE operator = :operator AND fitted_to <> :fitted_to)
ON CONFLICT (operator, term) DO UPDATE SET value = excluded.value, recorded_at = excluded.recorded_at
WHERE excluded.value <> value
