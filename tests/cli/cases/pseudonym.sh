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
says "left out 1 cell of free text, for it may name people"
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
says "1 implant, 0 follow-ups, 1 event"
run verify
exits 0
says "1 patient, 1 implant"

test_that "codes through a map: a wide sheet of three kinds leaves no label in the store, and its map loads the next one"
cat > wide.csv <<'E2'
Patient name,Implant label,Tooth,Date placed,Control date year 1,Mesial year 1,Removed on,Date of birth
Ibex-11,x,36,2024-03-01,2025-03-02,-0.5,2025-04-01,1961-05-04
Ibex-12,x,46,2024-03-01,2025-03-02,-0.4,,1962-06-05
E2
run match wide.csv --out wide.map
exits 0
has wide.map 'column "Date of birth" -> birth_year'
lacks wide.map 1961
sed -i 's/^constant event ask/constant event removed/' wide.map
run new --store wide.db
run load --store wide.db --pseudonym --key codes.key --map wide.map wide.csv
exits 0
says "2 rows: 2 new"
says "warning: column 'Date of birth' looks like dates of birth: only the year is taken; take the date out of the sheet"
count 1 grep -c "looks like dates of birth" out
holds sh -c '! grep -aq Ibex wide.db'
holds sh -c '! grep -aqE "1961-05-04" wide.db'
holds test "$(sqlite3 wide.db 'SELECT group_concat(birth_year) FROM implant')" = 1961,1962
holds test "$(sqlite3 wide.db 'SELECT count(*) FROM event')" = 1
holds test "$(sqlite3 wide.db 'SELECT count(*) FROM reading')" = 2
run load --store wide.db --key codes.key wide.csv
exits 0
says "through the map of batch 3"
says "2 rows: 0 new, 0 changed, 2 unchanged"
run quarter --store wide.db --key codes.key wide.csv --period 2025Q2
exits 0
says "loaded: 0 implants"

test_that "without codes a column of names is warned of, by its name only"
run new --store named.db
run load --store named.db --map wide.map wide.csv
exits 0
says "warning: column 'Patient name' looks like names: load into a new store with --pseudonym, or use labels of your own"
holds sh -c '! grep "warning" out | grep -q Ibex'

test_that "a map that names patients is refused with codes, for it would be kept in the store"
printf 'ridgetally map 1\nconstant patient Ibex-11\ncolumn "Implant label" -> implant\ncolumn "Tooth" -> tooth\n' > one.map
run load --store wide.db --key codes.key --map one.map wide.csv
exits 2
warns "one.map: the map names patients, and it would be kept in the store: put the labels into a column of the sheet"
sed 's/-> patient.*/-> patient codes "Ibex-11" = "Ibex-1"/' wide.map > codes.map
run load --store wide.db --key codes.key --map codes.map wide.csv
exits 2
warns "the map names patients"
holds sh -c '! grep -aq Ibex wide.db'

test_that "text in the map takes free text of its column"
printf 'Patient,Implant label,What happened,Event date,Reason\nIbex-11,x,complication,2025-01-01,told by her sister\n' > told.csv
printf 'ridgetally map 1\ncolumn "Patient" -> patient\ncolumn "Implant label" -> implant\ncolumn "What happened" -> event\ncolumn "Event date" -> happened_on\ncolumn "Reason" -> cause\n' > told.map
run load --store named.db --map told.map told.csv
exits 0
says "left out 1 cell of free text, for it may name people: type short codes, or take the text with --text or \`text\` in the map"
holds test "$(sqlite3 named.db "SELECT count(*) FROM event WHERE cause IS NOT NULL")" = 0
sed 's/-> cause/-> cause text/' told.map > text.map
run load --store named.db --map text.map told.csv
exits 0
says_not "free text"
says "0 new, 1 changed"
holds test "$(sqlite3 named.db "SELECT cause FROM event WHERE cause IS NOT NULL")" = "told by her sister"
sed 's/-> implant/-> implant text/' told.map > wrong.map
run load --store named.db --map wrong.map told.csv
exits 3
warns "wrong.map:3: a column has no option 'text'"
