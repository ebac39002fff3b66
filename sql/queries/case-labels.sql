-- Under which labels an implant stands.
SELECT p.label, i.label FROM implant i JOIN patient p ON p.id = i.patient_id WHERE i.id = :id
