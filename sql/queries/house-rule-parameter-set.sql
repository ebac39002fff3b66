-- A number inside a house rule.
UPDATE house_rule_parameter SET value = :value WHERE rule = :rule AND name = :name
