# The list of doubts: what it shows, how it goes out and comes back answered.

run new --practice "Our practice"
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run doubts --as csv
cp out list.csv

test_that "the doubts that keep cases out of figures come first, and the table marks twenty of them"
run doubts
exits 0
grep -n '^-- mend the 20 above first: they keep cases out of figures --$' out > mark
has mark "22:"
tail -n +2 list.csv | sed 20q | cut -d, -f2 | grep -vcE '^(refused|contradiction)$' > others
has others 0
run doubts --first 3 --as csv
count 4 cat out
head -n 4 list.csv > first
same out first
run doubts --first 0
exits 2

test_that "the list as it is, answered by nobody, changes nothing"
run doubts --answers list.csv
exits 0
silent
says "$(($(wc -l < list.csv) - 1)) rows: 0 replied, 0 left as is, 0 taken back, 0 answers known already"

test_that "an answer comes back, is known the second time, and leaves the list when left as is"
head -n 1 list.csv > answered.csv
sed -n 2p list.csv | sed 's/,,,$/,replied,AB,"=asked, twice"/' >> answered.csv
sed -n 3p list.csv | sed 's/,,,$/,left as is,CD,-as the note has it/' >> answered.csv
run doubts --answers answered.csv
exits 0
silent
says "2 rows: 1 replied, 1 left as is, 0 taken back, 0 answers known already"
run doubts --answers answered.csv
says "2 rows: 0 replied, 0 left as is, 0 taken back, 2 answers known already"
run doubts --as csv
has out "replied,AB,\"'=asked, twice\""
count $(($(wc -l < list.csv) - 1)) cat out
cp out second.csv
run doubts --answers second.csv
says "0 replied, 0 left as is, 0 taken back, 1 answer known already"
run doubts --waiting --as csv
count $(($(wc -l < list.csv) - 2)) cat out
run doubts --all --as csv
has out "left as is,CD,'-as the note has it"
run doubts
says "[replied AB: =asked, twice]"
run verify
exits 0

test_that "a changed key cell is refused with its line and column, and nothing is taken"
sed -n 1p list.csv > moved.csv
sed -n 4p list.csv | sed 's/,,,$/,replied,AB,good/' >> moved.csv
sed -n 5p list.csv | sed 's/^[0-9]*,/1,/; s/,,,$/,replied,AB,wrong row/' >> moved.csv
run doubts --answers moved.csv
exits 3
warns "moved.csv:3:"
says "nothing was taken"
run doubts --as csv
same out second.csv
run doubts --answers list.csv --all
exits 2
run doubts --answers nowhere.csv
exits 3
warns nowhere.csv

test_that "one case alone, and no case label on stderr"
label=$(sqlite3 practice.db "SELECT p.label FROM doubt d JOIN patient p ON p.id = d.patient_id WHERE d.state = 'waiting' LIMIT 1")
run doubts --case "$label" --as csv
exits 0
silent
holds sh -c "! tail -n +2 out | grep -v ',$label,'"
run doubts --case "no such' OR 1=1 --"
exits 0
silent
prints <<'END'
no doubts
END
run doubts --all --waiting
exits 2

test_that "a whole sheet tells what is gone, and an earlier sheet brings it back"
sed '$d' "$SAMPLE/implants.csv" > whole.csv
run load whole.csv
says_not "gone"
run load --whole whole.csv
says "1 record gone from this sheet, kept, and among the doubts"
run doubts
says "this implant is gone from the sheet, which was said to be all of the records"
run load "$SAMPLE/implants.csv"
says "1 record back that went earlier"
run doubts
says_not "gone from the sheet"
run load --whole whole.csv "$SAMPLE/implants.csv"
exits 2
warns "two files of implants cannot each be all of them"
run verify
exits 0

test_that "the whole list is in its order: what blocks a figure, then weight, then how many sections, then number"
run new --store order.db
run load --store order.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run doubts --store order.db --as csv
cp out order.csv
sqlite3 order.db "SELECT id, weight, blocks FROM doubt WHERE state = 'waiting'" | awk -F'|' '
    BEGIN { rank["refused"] = 1; rank["contradiction"] = 2; rank["notice"] = 3; rank["implausible"] = 4; rank["missing"] = 5 }
    { sections = $3 == "" ? 0 : gsub(/,/, ",", $3)
      print ($2 == "refused" || $3 != "") ? 0 : 1, rank[$2], -sections, $1 }' | sort -k1,1n -k2,2n -k3,3n -k4,4n | cut -d' ' -f4 > by-hand
tail -n +2 order.csv | cut -d, -f1 > numbers
same by-hand numbers
holds test "$(sort -u numbers | wc -l)" = "$(wc -l < numbers)"

test_that "numbers stay: after the same files again, after an undo and the file again, and on a doubt that comes back"
run load --store order.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run doubts --store order.db --as csv
same order.csv out
largest=$(sqlite3 order.db "SELECT max(id) FROM doubt")
for batch in 6 5 4; do
    run undo --store order.db $batch
    exits 0
done
run doubts --store order.db --as csv
same order.csv out
run undo --store order.db 3
exits 0
raised=$(sqlite3 order.db "SELECT count(*) FROM doubt WHERE id > $largest")
holds test "$raised" = 0
run load --store order.db "$SAMPLE/events.csv"
holds test "$(sqlite3 order.db "SELECT count(*) FROM doubt WHERE id > $largest")" -gt 0
run verify --store order.db
exits 0

test_that "a doubt left as is says who and why, goes off the list, and stays left when it is raised again"
number=$(sqlite3 order.db "SELECT min(d.id) FROM doubt d WHERE weight = 'implausible' AND check_name = 'unusual-value' AND state = 'waiting'")
head -n 1 order.csv > left.csv
run doubts --store order.db --as csv
grep "^$number," out | sed 's/,,,$/,left as is,CD,as the note has it/' >> left.csv
run doubts --store order.db --answers left.csv
exits 0
says "1 left as is"
run doubts --store order.db
says_not "as the note has it"
run doubts --store order.db --all
says "[left as is CD: as the note has it]"
run load --store order.db "$SAMPLE/implants.csv"
run doubts --store order.db --as csv
holds sh -c "! grep -q '^$number,' out"
holds test "$(sqlite3 order.db "SELECT state FROM doubt WHERE id = $number")" = left
sed "s/,left as is,CD,as the note has it/,left as is,,/" left.csv > nobody.csv
run doubts --store order.db --answers nobody.csv
exits 3
warns "nobody.csv:2:"
