-- The edits of a house rule in order, the day of each and whether it came after the first audit was recorded.
SELECT c.name, c.old, c.new, substr(c.set_at, 1, 10), c.set_by, c.origin,
       c.after_audit
FROM house_rule_change c
WHERE c.rule = :rule
ORDER BY c.id
