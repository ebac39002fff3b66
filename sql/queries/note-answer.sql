-- What came of a note, told in the audit of the period that ends on answered_on.
UPDATE audit_note SET answered_on = :answered_on, answer = :answer, answered_by = :answered_by WHERE id = :id
