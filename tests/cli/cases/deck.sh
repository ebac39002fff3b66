# The study-club deck: what is written, what is kept back, what stops it.

run new
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

cat > slides.txt <<'END'
# ours
title
depth-bias
text: <b>What</b> & why
  We ask "why"
  note: wait for it
survival
END

test_that "the presenter's slides stand in the presenter's order, own text escaped, nothing fetched"
run deck --period 2026Q2 --slides slides.txt --out club
exits 0
says "club/deck.html"
has club/deck.html "&lt;b&gt;What&lt;/b&gt; &amp; why"
has club/deck.html "We ask &quot;why&quot;"
lacks club/deck.html "<b>"
holds test "$(grep -o 'class="slide"' club/deck.html | wc -l)" = 4
holds test "$(grep -o 'https*://[^"]*' club/deck.html | grep -vc '^http://www.w3.org/')" = 0
lacks club/deck.html "src="

test_that "every number is a row of figures.csv beside it; the one script stands last"
sed '/^<script>/,/<\/script>/d' club/deck.html > plain.html
lacks plain.html "<script"
holds "$CHECK_PAGE" plain.html club/figures.csv

test_that "no group of one to four patients is shown, and operators are letters"
holds test "$(awk -F, 'NR > 1 && $7 > 0 && $7 < 5' club/figures.csv | wc -l)" = 0
has club/figures.csv "operator K"
lacks club/figures.csv "12 months|A"
awk -F, '$2 == "depth_bias" && $3 == "window|operator" { print $4 }' club/figures.csv > letters # nor told by their order
holds sort -c letters
count 3 cat letters
run deck --period 2026Q2 --slides slides.txt --out named --show-operators
exits 0
has named/figures.csv "12 months|A"

test_that "what was kept back stands beside the folder, marked as internal, for the owner alone"
has club-withheld.csv "internal: not to be shown"
holds test "$(stat -c %a club-withheld.csv)" = 600
holds test "$(stat -c %a club)" = 700
holds test -s club/charts/deck-survival.svg

test_that "the counts of an issued deck are kept"
holds test "$(sqlite3 practice.db 'SELECT count(*) FROM issued_deck')" = 2
holds test "$(sqlite3 practice.db "SELECT count(*) FROM issued_deck_cell WHERE patients BETWEEN 1 AND 4 AND shown = 1")" = 0

test_that "an operator keeps the letter of the first deck when another one comes"
awk -F, -v OFS=, 'NR == 1 { print } NR > 1 && $5 == "A" { $1 = "new" $1; $5 = "0-newcomer"; print }' "$SAMPLE/implants.csv" > more.csv
cp practice.db before.db
run load more.csv
run deck --period 2026Q2 --slides slides.txt --out later
exits 0
holds test "$(sqlite3 practice.db "SELECT count(*) FROM deck_letter WHERE kind = 'operator'")" = 4
holds test "$(sqlite3 before.db "SELECT group_concat(label_hash || place) FROM (SELECT * FROM deck_letter WHERE kind = 'operator' ORDER BY place)")" = \
    "$(sqlite3 practice.db "SELECT group_concat(label_hash || place) FROM (SELECT * FROM deck_letter WHERE kind = 'operator' AND place < 3 ORDER BY place)")"
lacks later/figures.csv newcomer
holds test "$(sqlite3 practice.db "SELECT count(*) FROM deck_letter WHERE label_hash LIKE '%newcomer%'")" = 0
cp before.db practice.db

test_that "a list that names no slide of ours is refused with file and line"
printf 'title\nsurvivel\n' > wrong.txt
run deck --period 2026Q2 --slides wrong.txt --out wrong
exits 3
warns "wrong.txt"
warns "survivel"
holds test ! -e wrong

test_that "a slide that cannot be shown stops the deck before anything is written or kept"
printf 'title\nearly-smoking\n' > small.txt
run deck --period 2026Q2 --slides small.txt --out small
exits 3
warns "small.txt"
warns "early-smoking"
holds test ! -e small
holds test "$(sqlite3 practice.db 'SELECT count(*) FROM issued_deck')" = 2

test_that "filters that point to single patients, or put groups together anew, are refused"
run deck --period 2026Q2 --tooth 36
exits 2
run deck --period 2026Q2 --age 40-41
exits 2
run deck --period 2026Q2 --operator A,B
exits 2
