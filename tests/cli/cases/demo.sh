# demo: the invented practice through the whole program.

test_that "it writes everything and ends with the path of the page"
run demo --out here
exits 0
silent
holds test "$(tail -n 1 out)" = here/audit.html
for file in implants.csv followups.csv events.csv practice.db doubts.csv audit.html figures.csv; do
    holds test -s "here/$file"
    holds test "$(stat -c %a "here/$file")" = 600
done
holds test "$(stat -c %a here)" = 700
for file in implants followups events; do same "here/$file.csv" "$SAMPLE/$file.csv"; done

test_that "it writes the slides and one operator's trend, each in a folder of its own"
says "deck    here/deck/deck.html"
says "trend   here/trend/trend.html"
for file in deck/deck.html deck/figures.csv deck-withheld.csv trend/trend.html trend/figures.csv; do
    holds test -s "here/$file"
    holds test "$(stat -c %a "here/$file")" = 600
done
has here/deck/deck.html "is invented"
has here/trend/trend.html "is invented"

test_that "the page says that the practice is invented, and so does the sample's README"
has here/audit.html "Quillhaven Implant Practice (invented)"
has here/audit.html "is invented"
has "$SAMPLE/README.md" "Everything here is invented"

test_that "the page needs nothing from outside and runs no script"
holds sh -c '! grep -qiE "<script|<link|<iframe|<img|@import|url\((\"|.)?(https?:)?//" here/audit.html'
holds sh -c '! grep -oiE "(src|href|action)=\"[^\"#]" here/audit.html'

test_that "its default period is the last complete quarter before the latest record"
says "2026-04-01 to 2026-06-30"

test_that "doubts.csv is what the verb prints"
run doubts --store here/practice.db --as csv
exits 0
same out here/doubts.csv

test_that "figures.csv is what the verb prints for that quarter"
run figures --store here/practice.db --period 2026Q2
exits 0
same out here/figures.csv

test_that "the store is sound"
run verify --store here/practice.db
exits 0

test_that "a second demo gives the same files and keeps what others put there"
cp here/audit.html first.html
cp here/figures.csv first.csv
echo mine > here/mine.txt
run demo --out here
exits 0
same first.html here/audit.html
same first.csv here/figures.csv
has here/mine.txt mine

test_that "a folder with other files is left alone"
mkdir other
echo mine > other/mine.txt
run demo --out other
exits 2
complains <<'END'
ridgetally: other: the folder holds files that no demo made: choose another one with --out
END
count 1 ls -A other

test_that "a store that no demo made is left alone beside an earlier demo"
rm here/practice.db
sed -i '/practice.db/d' here/.made-by-demo
echo precious > here/practice.db
run demo --out here
exits 2
warns "practice.db"
has here/practice.db precious

test_that "the list of an earlier demo cannot lead out of the folder"
mkdir trap
echo precious > precious.txt
printf '../precious.txt\n..\n.\n/\n%s/precious.txt\n' "$PWD" > trap/.made-by-demo
run demo --out trap
exits 0
has precious.txt precious

test_that "a folder that cannot be made is a failure of the system"
: > file
run demo --out file/below
exits 4
warns "ridgetally: file: cannot make the folder"

test_that "it takes no files"
run demo records.csv
exits 2
