-- Keep what was edited in a house rule.
INSERT INTO house_rule_change (rule, name, old, new, set_at, set_by, origin, after_audit)
VALUES (:rule, :name, :old, :new, :set_at, :set_by, :origin, EXISTS (SELECT 1 FROM audit))
