-- One of the chosen implants.
INSERT INTO temp.chosen_implant (id) VALUES (:id)
