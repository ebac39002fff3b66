# Codes instead of patient labels: the key file, the store without labels, and forgetting by the label.

cat > implants.csv <<'E'
patient,implant,tooth,placed_on
Zebra-771,a,36,2024-03-01
Okapi-2,b,36,2024-03-02
E
cat > events.csv <<'E'
patient,implant,happened_on,event,cause
Zebra-771,a,2025-01-01,removed,Quagga said so
E

test_that "codes need a key that is named"
run new
run load --pseudonym implants.csv
exits 2
warns "RIDGETALLY_KEY"

test_that "a missing key is made, private, and told"
run load --pseudonym --key codes.key implants.csv events.csv
exits 0
warns "codes.key is the new key"
says "1 cells of free text were left out, for they may name people"
holds test "$(stat -c %a codes.key)" = 600
holds sh -c "! grep -aqE 'Zebra|Okapi|Quagga' practice.db"

test_that "the same sheet under the same key is nothing new; --text takes the cause"
RIDGETALLY_KEY=codes.key
export RIDGETALLY_KEY
run load implants.csv
exits 0
silent
says "0 new, 0 changed, 2 unchanged"
run load --text events.csv
says "0 new, 1 changed"
unset RIDGETALLY_KEY

test_that "without the key, or with another, nothing is loaded"
run load implants.csv
exits 2
run load --key other.key implants.csv
exits 2
holds test ! -e other.key
run quarter implants.csv
exits 2
chmod 644 codes.key
run load --key codes.key implants.csv
exits 2
warns "chmod 600"
chmod 600 codes.key

test_that "a patient is forgotten by the label with the key"
run forget Zebra-771
exits 2
run forget Zebra-771 --key codes.key
exits 0
says "1 implants, 0 follow-ups, 1 events"
run verify
exits 0
says "1 patients, 1 implants"
