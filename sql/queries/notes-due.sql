-- How many notes on audits are open and due on a day.
SELECT count(*) FROM audit_note WHERE answer = '' AND re_audit_on <= :today
