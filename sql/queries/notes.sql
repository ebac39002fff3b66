-- The notes on audits in the order they were written.
SELECT id, first_day, last_day, section, about, decision, written_on, written_by, re_audit_on, answered_on, answer, answered_by
FROM audit_note ORDER BY id
