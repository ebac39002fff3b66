-- How many days the practice's house rule waits between placement and loading.
SELECT value FROM house_rule_parameter WHERE rule = 'wait-twelve-weeks' AND name = 'wait'
