-- A note on the audit of a period.
INSERT INTO audit_note (first_day, last_day, section, about, decision, written_on, written_by, re_audit_on)
VALUES (:first_day, :last_day, :section, :about, :decision, :written_on, :written_by, :re_audit_on)
