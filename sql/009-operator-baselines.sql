-- Step 9: what an operator's early failures are expected to be, frozen when an audit was first recorded, so that the chart of
-- failures is judged by the same expectation from quarter to quarter. Terms are those of figure measure baseline_term.
CREATE TABLE operator_baseline (
    operator    TEXT NOT NULL,
    term        TEXT NOT NULL,
    value       REAL NOT NULL,
    fitted_to   INTEGER NOT NULL, -- last day of the records it was fitted to
    recorded_at TEXT NOT NULL,    -- UTC instant
    PRIMARY KEY (operator, term)
) STRICT;
