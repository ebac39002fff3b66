-- Patient labels that look like e-mail addresses, dates of birth or names. Names: no digit, and two words of
-- two or more letters; they count once three labels and at least one in twenty look so.
WITH looks AS (
    SELECT sum(label LIKE '%_@_%._%') AS mails,
           sum(label GLOB '*[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]*' OR label GLOB '*[0-3][0-9].[01][0-9].[12][0-9][0-9][0-9]*'
               OR label GLOB '*[0-3][0-9]/[0-3][0-9]/[12][0-9][0-9][0-9]*') AS births,
           sum(label NOT GLOB '*[0-9]*' AND (trim(label) GLOB '*??[ ,]??*' OR trim(label) GLOB '*??, ??*')) AS names,
           count(*) AS labels,
           max(batch_id) AS batch_id
    FROM patient)
SELECT 'patient:all' AS subject, 'patient' AS column_name, kind AS value, NULL AS patient_id, NULL AS implant_id,
       batch_id AS source_batch_id, 0 AS line, 'notice' AS weight, '' AS blocks,
       n || ' of ' || labels || ' patient labels look like ' || kind AS reason,
       'use pseudonyms: replace the labels in the sheets, make a new store and load them into it' AS remedy
FROM (SELECT 'e-mail addresses' AS kind, mails AS n, labels, batch_id FROM looks WHERE mails > 0
      UNION ALL SELECT 'dates of birth', births, labels, batch_id FROM looks WHERE births > 0
      UNION ALL SELECT 'names', names, labels, batch_id FROM looks WHERE names >= 3 AND 20 * names >= labels)
