-- The numbers inside the house rules.
SELECT p.rule, p.name, p.value, p.unit, p.words, p.least, p.most
FROM house_rule_parameter p
JOIN house_rule r ON r.name = p.rule
ORDER BY r.position, p.name
