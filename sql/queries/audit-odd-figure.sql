-- A figure row of a recorded audit that the table's own constraints would refuse, had they been asked row by row.
SELECT position, section, state
FROM figure
WHERE audit_id = :audit_id
  AND (section NOT IN ('flow', 'depth', 'stability', 'crest', 'survival', 'success', 'rules', 'operators', 'readers', 'yardsticks',
                       'precision')
       OR state NOT IN ('ok', 'too_few', 'undefined', 'withheld')
       OR NOT EXISTS (SELECT 1 FROM audit WHERE id = :audit_id))
LIMIT 1
