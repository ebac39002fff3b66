# Erasing a patient: the file afterwards, and the copies that are named.

cat > implants.csv <<'E'
patient,implant,tooth,placed_on,length_mm
Zebra-771,Quagga9,36,2024-03-01,10
Okapi-2,b,36,2024-03-02,10
E
cat > followups.csv <<'E'
patient,implant,seen_on,film
Zebra-771,Quagga9,2025-03-01,Film55
Zebra-771,nowhere,2025-03-01,Film55
Okapi-2,b,2025-03-01,Film56
E

test_that "no byte of a forgotten patient is left in the store, and the copies are named"
run new
run load implants.csv followups.csv
exits 1
run backup kept.db
exits 0
run backup moved.db
exits 0
mv moved.db elsewhere.db
cp practice.db "practice.db.before-update-1"
holds grep -aq Quagga9 practice.db
run forget Zebra-771
exits 0
silent
says "the patient is forgotten; erased: 1 implant, 1 follow-up, 0 events"
says "1 refused row"
says "$PWD/kept.db, made 20"
says "$PWD/moved.db, made 20"
says "not there now"
says "practice.db.before-update-1, kept before an update"
says_not Zebra
for word in Zebra Quagga9 Film55; do
    holds sh -c "! grep -aq $word practice.db"
done
holds grep -aq Film56 practice.db
holds grep -aq Zebra kept.db
holds test ! -e practice.db-journal
run verify
exits 0
says "1 patient, 1 implant, 1 follow-up"

test_that "forgetting a patient who is not there says so"
run forget Zebra-771
exits 2
warns "nothing in the store is of a patient with this label"
run forget
exits 2

test_that "without copies, forget says that none are known"
run new --store lone.db
run load --store lone.db implants.csv
run forget --store lone.db Okapi-2
exits 0
says "no copies of the store are known"

test_that "a copy of a store that cannot be written is made, and told"
if [ "$(id -u)" != 0 ]; then
    chmod 400 lone.db
    run backup --store lone.db lone-copy.db
    exits 0
    warns "not on the store's list of copies"
fi
run backup --store lone.db lone-copy.db
exits 0
