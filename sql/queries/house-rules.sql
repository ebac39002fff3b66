-- The house rules in their order, and whether each was edited after the first audit was recorded.
SELECT r.name, r.statement, r.form, r.outcome, r.direction, r.smallest_difference, r.stated_value, r.largest_width, r.unit,
       r.confounders, r.harder_with_easier, r.origin,
       EXISTS (SELECT 1 FROM house_rule_change c WHERE c.rule = r.name AND c.after_audit) AS edited
FROM house_rule r
ORDER BY r.position
