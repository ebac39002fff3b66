# Fourteen sheets of other practices, each in a dialect of its own, load to the same records through drafted maps with at most
# three edits of a draft each.

"$GENERATOR" --clean --out .
# A small practice: some implants, the first reading of three visits, the failures.
awk -F, -v OFS=, 'NR == FNR { if ($4 == "removed" && n < 8) { keep[$1 $2]; n++ } next }
    FNR == 1 || FNR <= 60 || ($1 $2 in keep) { print $1, $2, $3, $4, $7, $8, $9, $10, $14, $17, $19, $30, $33, $34 }' \
    events.csv implants.csv > small-implants.csv
awk -F, -v OFS=, 'NR == FNR { known[$1 $2]; next }
    FNR == 1 || (($1 $2 in known) && $4 != "uncovering" && $7 == 1 && !(($1 $2 $4) in seen)) {
        seen[$1 $2 $4]; print $1, $2, $3, $4, $8, $9 }' small-implants.csv followups.csv > small-followups.csv
awk -F, -v OFS=, 'NR == FNR { known[$1 $2]; next }
    FNR == 1 || (($1 $2 in known) && $4 == "removed") { print $1, $2, $3, $4 }' small-implants.csv events.csv > small-events.csv
awk -f "$SOURCE/tests/cli/foreign/wide.awk" small-implants.csv small-followups.csv small-events.csv > wide

records() {
    sqlite3 store.db "SELECT p.label, i.label, tooth, placed_on, diameter_mm, length_mm, planned_depth_mm,
            achieved_depth_mm, stalled, final_torque_ncm, final_torque_capped, tissue_mm, loaded_on, sex, smoking
        FROM implant i JOIN patient p ON p.id = i.patient_id ORDER BY 1, 2;
        SELECT p.label, i.label, seen_on, visit, film, reader, reading, level_mesial_raw_mm, level_distal_raw_mm, level_kind
        FROM reading r JOIN implant i ON i.id = r.implant_id JOIN patient p ON p.id = i.patient_id ORDER BY 1, 2, 3, 4;
        SELECT p.label, i.label, happened_on, event, cause
        FROM event e JOIN patient p ON p.id = e.patient_id LEFT JOIN implant i ON i.id = e.implant_id ORDER BY 1, 2, 3, 4"
}

fresh() {
    rm -f store.db
    run new --store store.db
    exits 0
}

test_that "the small practice loads from native files"
fresh
run load --store store.db small-implants.csv small-followups.csv small-events.csv
exits 0
records > native
holds test "$(sqlite3 store.db 'SELECT count(*) FROM implant')" -gt 60
holds test "$(sqlite3 store.db 'SELECT count(*) FROM reading')" -gt 100
holds test "$(sqlite3 store.db 'SELECT count(*) FROM event')" -ge 8

render() { # VARIABLE=VALUE... : the wide table in a dialect
    defaults="sep=, dec=. quote=0 dates=iso mm=1 depth=1 torque=1 loss=0 teeth=iso yes=yes no=no female=F male=M never=never
        former=former current=current"
    set -- $defaults "$@"
    options=
    for pair; do options="$options -v $pair"; done
    awk $options -f "$SOURCE/tests/cli/foreign/dialect.awk" wide
}

# Match, edit, load, compare; then the same sheet again needs no map.
same_records() { # SHEET WORDS [SED-COMMAND...] (at most three)
    sheet=$1 words=$2
    shift 2
    holds test $# -le 3
    run match "$sheet" --out draft.map
    exits 0
    cp draft.map edited.map
    for edit; do
        sed "$edit" edited.map > edited.new
        holds sh -c '! cmp -s edited.map edited.new' # no edit is idle
        mv edited.new edited.map
    done
    fresh
    run load --store store.db --map edited.map "$sheet"
    exits 0
    says "read as $words"
    records > foreign
    same native foreign
    run load --store store.db "$sheet"
    exits 0
    says "through the map of batch 3"
    records > again
    same native again
    holds test "$(sqlite3 store.db "SELECT count(*) FROM history WHERE table_name <> 'doubt'")" = 0
}

english() { # the header with SEPARATOR and the words of the visits
    printf '%s\n' "Patient ID|Implant label|Tooth|Date placed|Diameter (mm)|Implant length (mm)|Planned depth (mm)|Achieved depth (mm)|Motor stalled|Insertion torque (Ncm)|Tissue height (mm)|Date loaded|Sex|Smoking|Control date baseline|Mesial baseline|Distal baseline|Control date crown|Mesial crown|Distal crown|Control date year 1|Mesial year 1|Distal year 1|Removed on" | tr '|' "$1"
}
removed='s/^constant event ask/constant event removed/'

test_that "1: commas, ISO dates, a wide sheet in English"
{ english ,; render; } > 1.csv
same_records 1.csv "UTF-8, commas, decimal point, header on line 1" "$removed"

test_that "2: semicolons, decimal commas, day-first dates with points, J and N, in German"
{
    printf '%s\n' "Patient;Implantat;Zahn;OP-Datum;Durchmesser (mm);Implantatlänge (mm);Geplante Tiefe (mm);Erreichte Tiefe (mm);Motor-Stopp;Drehmoment (Ncm);Gewebe (mm);Belastet am;Geschlecht;Raucher;Kontrolldatum Baseline;Mesial Baseline;Distal Baseline;Kontrolldatum Krone;Mesial Krone;Distal Krone;Kontrolldatum Jahr 1;Mesial Jahr 1;Distal Jahr 1;Entfernt am"
    render 'sep=;' dec=, dates=dmy yes=J no=N female=w male=m never=Nichtraucher former=Exraucher current=Raucher
} > 2.csv
same_records 2.csv "UTF-8, semicolons, decimal comma, header on line 1" "$removed"

test_that "3: Windows-1252, carriage returns, titles above the header, in German"
{ printf 'Fälle der Praxis\n\n'; cat 2.csv; } | iconv -f UTF-8 -t WINDOWS-1252 | tr '\n' '\r' > 3.csv
same_records 3.csv "Windows-1252, semicolons, decimal comma, header on line 3" "$removed"

test_that "4: UTF-16 with tabs and CR LF, month-first dates, teeth from 1 to 32"
{ english '\t'; render "sep=\\t" dates=mdy teeth=132; } | sed 's/$/\r/' | iconv -f UTF-8 -t UTF-16 > 4.txt
same_records 4.txt "UTF-16 LE, tabs, decimal point, header on line 1" "$removed"

test_that "5: UTF-16 BE without a mark, bars, months in letters"
{ english '|'; render 'sep=|' dates=mon; } | iconv -f UTF-8 -t UTF-16BE > 5.txt
same_records 5.txt "UTF-16 BE, bars, decimal point, header on line 1" "$removed"

test_that "6: lengths in cm, torque in N m"
{
    english , | sed 's/Diameter (mm)/Diameter [cm]/; s/Implant length (mm)/Implant length [cm]/; s/Tissue height (mm)/Tissue height [cm]/; s/(Ncm)/(N m)/'
    render mm=0.1 torque=0.01
} > 6.csv
same_records 6.csv "UTF-8, commas, decimal point, header on line 1" "$removed"

test_that "7: lengths in inches, decimal commas in quotes"
{
    english , | sed 's/Diameter (mm)/Diameter (inch)/; s/Implant length (mm)/Implant length (inch)/; s/Tissue height (mm)/Tissue height (inch)/'
    render dec=, quote=1 mm=0.03937007874015748
} > 7.csv
same_records 7.csv "UTF-8, commas, decimal comma, header on line 1" "$removed"

test_that "8: levels as loss, 1 and 0 for yes and no, a byte order mark"
{
    printf '\357\273\277'
    english ';' | sed 's/Mesial/Bone loss mesial/g; s/Distal/Bone loss distal/g'
    render 'sep=;' loss=1 yes=1 no=0
} > 8.csv
same_records 8.csv "UTF-8, semicolons, decimal point, header on line 1" "$removed"

test_that "9: depths counted upwards, dates with slashes, blank lines and the header again on every page"
{
    english ';'
    render 'sep=;' depth=-1 dates=dmyslash | awk -v header="$(english ';')" 'NR % 20 == 0 { print ""; print header } { print }'
} > 9.csv
same_records 9.csv "UTF-8, semicolons, decimal point, header on line 1" "$removed" 's/-> planned_depth_mm/& sign reversed/' \
    's/-> achieved_depth_mm/& sign reversed/'

test_that "10: day numbers of a spreadsheet, 1900 system"
{ english ,; render dates=serial1900; } > 10.csv
same_records 10.csv "UTF-8, commas, decimal point, header on line 1" "$removed" 's/dates ask/dates serial-1900/'

test_that "11: day numbers of a spreadsheet, 1904 system, words for smoking and sex"
{ english '|'; render 'sep=|' dates=serial1904 female=female male=male never=non-smoker former=ex-smoker current=smoker; } > 11.csv
same_records 11.csv "UTF-8, bars, decimal point, header on line 1" "$removed" 's/dates ask/dates serial-1904/'

test_that "12: in French, columns no one needs, torque caps, words of the practice's own"
{
    printf '%s\n' "Remarques;Paciente;Implant;Dent;Date pose;Diamètre (mm);Longueur (mm);Profondeur prévue (mm);Profondeur obtenue (mm);Calé;Couple (Ncm);Muqueuse (mm);Mise en charge;Sexe;Tabac;Date contrôle baseline;Mesial baseline;Distal baseline;Date contrôle couronne;Mesial couronne;Distal couronne;Date contrôle 1 an;Mesial 1 an;Distal 1 an;Date perte"
    render 'sep=;' dec=, dates=dmy yes=oui no=non never=jamais former=ancien current=actif | sed 's/^/vu;/'
} > 12.csv
same_records 12.csv "UTF-8, semicolons, decimal comma, header on line 1" "$removed" \
    's/"jamais" = ask/"jamais" = never/; s/"ancien" = ask/"ancien" = former/; s/"actif" = ask/"actif" = current/'

test_that "13: in Dutch, a row per visit with the facts of the implant repeated in each, kinds mixed in one sheet"
awk -F, -v OFS=';' -v words="placement=plaatsing loading=kroon review=controle" '
    function day(x, p) { if (x == "") return ""; split(x, p, "-"); return p[3] "-" p[2] "-" p[1] }
    function comma(x) { sub(/\./, ",", x); return x }
    function word(x) { return x == "yes" ? "ja" : x == "no" ? "nee" : x == "F" ? "v" : x == "M" ? "m" : x == "never" ? "nooit" : x == "former" ? "gestopt" : x == "current" ? "rookt" : x }
    BEGIN { n = split(words, pairs, " "); for (i = 1; i <= n; i++) { split(pairs[i], p, "="); kind[p[1]] = p[2] } }
    FNR == 1 { file++; next }
    file == 1 { lost[$1, $2] = day($3); next }
    file == 2 { visits[$1, $2] = visits[$1, $2] "|" day($3) ";" kind[$4] ";" comma($5) ";" comma($6); next }
    {
        facts = $1 ";" $2 ";" $3 ";" day($4)
        for (i = 5; i <= 8; i++) facts = facts ";" comma($i)
        facts = facts ";" word($9) ";" comma($10) ";" comma($11) ";" day($12) ";" word($13) ";" word($14)
        m = split(visits[$1, $2], rows, "|")
        if (m < 2) { rows[2] = ";;;"; m = 2 }
        for (i = 2; i <= m; i++) print facts, rows[i], lost[$1, $2]
    }' small-events.csv small-followups.csv small-implants.csv > 13.rows
{
    echo "Dossier;Implantaat;Element;Plaatsingsdatum;Diameter (mm);Lengte (mm);Geplande diepte (mm);Bereikte diepte (mm);Vastgelopen;Draaimoment (Ncm);Weefsel (mm);Belasting;Geslacht;Roken;Controledatum;Soort controle;Bot mesiaal;Bot distaal;Verloren op"
    cat 13.rows
} > 13.csv
same_records 13.csv "UTF-8, semicolons, decimal comma, header on line 1" "$removed" \
    's/"nooit" = ask/"nooit" = never/; s/"gestopt" = ask/"gestopt" = former/; s/"rookt" = ask/"rookt" = current/' \
    's/"plaatsing" = ask/"plaatsing" = placement/; s/"kroon" = ask/"kroon" = loading/; s/"controle" = ask/"controle" = review/'

test_that "14: in Italian capitals, groups of columns named above the header, lengths in cm, torque in N m, levels as loss"
{
    printf 'STUDIO\n\t\t\tCHIRURGIA\t\t\t\t\t\t\t\t\t\t\tBASALE\t\t\tCORONA\t\t\tANNO 1\n'
    printf '%s\n' "PAZIENTE|IMPIANTO|DENTE|DATA INTERVENTO|DIAMETRO [CM]|LUNGHEZZA [CM]|PROFONDITÀ PREVISTA [MM]|PROFONDITÀ OTTENUTA [MM]|MOTORE FERMO|TORSIONE [N M]|TESSUTO [CM]|CARICO|SESSO|FUMATORE|DATA CONTROLLO BASALE|PERDITA MESIALE BASALE|PERDITA DISTALE BASALE|DATA CONTROLLO CORONA|PERDITA MESIALE CORONA|PERDITA DISTALE CORONA|DATA CONTROLLO ANNO 1|PERDITA MESIALE ANNO 1|PERDITA DISTALE ANNO 1|RIMOSSO IL" | tr '|' '\t'
    render "sep=\\t" dec=, dates=mon mm=0.1 torque=0.01 loss=1 teeth=132 yes=sì no=no never=mai former=ex current=fuma |
        sed 's/ Jan / gen /g; s/ May / mag /g; s/ Jun / giu /g; s/ Jul / lug /g; s/ Aug / ago /g; s/ Sep / set /g; s/ Oct / ott /g; s/ Dec / dic /g'
} > 14.txt
same_records 14.txt "UTF-8, tabs, decimal comma, header on line 3" "$removed" \
    's/"mai" = ask/"mai" = never/; s/"fuma" = ask/"fuma" = current/'

test_that "what a draft leaves open is asked before anything is loaded"
{ english ,; render teeth=iso; } | awk -F, -v OFS=, 'NR == 1 || ($3 > 10 && $3 < 19)' > open.csv
run match open.csv --out open.map
exits 0
has open.map 'teeth ask'
has open.map 'constant event ask'
has open.map 'column "Mesial year 1" -> level_mesial_mm set "year 1"  # 100%: '
fresh
before=$(sqlite3 store.db .dump | cksum)
run load --store store.db --map open.map open.csv
exits 3
warns "ridgetally: open.map:5: the map leaves whether teeth are numbered iso or 1-32 open: put what is right in the place of ask"
holds test "$before" = "$(sqlite3 store.db .dump | cksum)"

test_that "an order of day and month that nothing proves is asked; without it such dates are refused one by one"
printf 'Patient,Label,Tooth,Date placed\nP1,a,34,03/04/2021\nP2,b,35,04/04/2021\n' > order.csv
run match order.csv
exits 0
says 'dates ask  # day-first or month-first? no date proves it'
printf 'ridgetally map 1\ncolumn "Patient" -> patient\ncolumn "Label" -> implant\ncolumn "Tooth" -> tooth\ncolumn "Date placed" -> placed_on\n' > order.map
fresh
run load --store store.db --map order.map order.csv
exits 1
says "line 2: placed_on: day and month could be the other way round: state dates day-first or month-first in the map"
says "2 rows: 1 new, 0 changed, 0 unchanged, 1 refused"

test_that "labels of cases, free text and columns not understood are not shown in a draft, nor comments kept in the store"
printf 'Patient,Implant label,Tooth,Surgeon,Nickname\nSecretA,SecretB,34,SecretC,SecretD\n' > secret.csv
run match secret.csv --out secret.map
exits 0
lacks secret.map Secret
has secret.map 'column "Nickname" -> skip  # not understood'
fresh
run load --store store.db --map secret.map secret.csv
exits 0
holds test "$(sqlite3 store.db "SELECT count(*) FROM batch WHERE map_text LIKE '%#%'")" = 0
holds test "$(sqlite3 store.db "SELECT label FROM patient")" = SecretA

test_that "next quarter's sheet with the same header needs no map; one with another header does"
printf 'Patient,Implant label,Tooth,Surgeon,Nickname\nP9,z,35,A,x\n' > next.csv
run load --store store.db next.csv
exits 0
says "through the map of batch 1"
says "1 row: 1 new"
printf 'Patient,Implant label,Region,Surgeon,Nickname\nP9,z,35,A,x\n' > renamed.csv
run load --store store.db renamed.csv
exits 3
warns "the header does not tell which records these are"
run load --store store.db --map secret.map renamed.csv
exits 3
warns "renamed.csv:1: the sheet lacks a column of the map: 'Tooth'"

test_that "one clear line for what is no sheet"
: > empty.csv
head -n 1 secret.csv > header.csv
head -c 5000 "$RIDGETALLY" > binary.csv
mkdir folder.csv
for pair in "empty.csv:this file is empty" "header.csv:this file has a header and no rows" "binary.csv:this is not a text file" \
    "folder.csv:this is a folder" "/dev/null:this is a pipe or a device" "none.csv:No such file"; do
    run match "${pair%%:*}"
    exits 3
    warns "${pair#*:}"
    holds test "$(wc -l < err)" -eq 1
    run load --store store.db --map secret.map "${pair%%:*}"
    exits 3
    warns "${pair#*:}"
    holds test "$(wc -l < err)" -eq 1
done

test_that "an undone sheet takes its map along"
run undo --store store.db 2
exits 0
run undo --store store.db 1
exits 0
run load --store store.db next.csv
exits 3

test_that "an .xlsx workbook (written by other software) loads by sheet name, dates and truth values told by the cells"
cp "$SOURCE/tests/cli/foreign/invented.xlsx" .
head -n 21 small-implants.csv > twenty.csv
fresh
run load --store store.db twenty.csv
exits 0
records > native
fresh
run load --store store.db invented.xlsx
exits 3
warns "ridgetally: invented.xlsx: the workbook has several sheets: Notes, Cases & more: say --sheet and the name of one"
run load --store store.db invented.xlsx --sheet "Cases & more"
exits 0
says "read as workbook, sheet Cases & more, header on row 3"
says "20 rows: 20 new"
records > foreign
same native foreign

test_that "a workbook is matched, and its sheet is kept in the map"
run match invented.xlsx --sheet "Cases & more" --out book.map
exits 0
has book.map 'sheet "Cases & more"'
sed -i 's/^teeth ask/teeth iso/' book.map
fresh
run load --store store.db --map book.map invented.xlsx
exits 0
records > foreign
same native foreign
run load --store store.db invented.xlsx
exits 0
says "read as workbook, sheet Cases & more, header on row 3, through the map of batch 1"
says "20 rows: 0 new, 0 changed, 20 unchanged"
run load --store store.db --map book.map invented.xlsx --sheet Notes
exits 3
warns "the sheet lacks a column of the map: 'patient'"

test_that "a damaged workbook is one clear line"
head -c 4000 invented.xlsx > cut.xlsx
run load --store store.db cut.xlsx
exits 3
warns "ridgetally: cut.xlsx: this workbook is damaged: open it in a spreadsheet program and save it again"
holds test "$(wc -l < err)" -eq 1

test_that "a sheet of several kinds that is all of the records: what it lacks is gone of each kind, and comes back"
{ english ,; render; } > all.csv
cp 1.csv all.csv
run match all.csv --out all.map
sed -i "$removed" all.map
fresh
run load --store store.db --map all.map --whole all.csv
exits 0
says_not "are gone"
full=$(sqlite3 store.db "SELECT (SELECT count(*) FROM implant) || ' ' || (SELECT count(*) FROM reading) || ' ' || (SELECT count(*) FROM event)")
awk -F, -v OFS=, 'NR == 1 { print; next } $24 != "" && !left { left = 1; next } $19 != "" && !shorn { shorn = 1; $18 = $19 = $20 = "" } { print }' all.csv > fewer.csv
run load --store store.db --whole fewer.csv
exits 0
says "1 record gone from this sheet"
holds test "$(sqlite3 store.db "SELECT (SELECT count(*) FROM implant) || ' ' || (SELECT count(*) FROM reading) || ' ' || (SELECT count(*) FROM event)")" = "$full"
holds test "$(sqlite3 store.db 'SELECT count(*) FROM implant WHERE gone_batch_id IS NOT NULL')" = 1
holds test "$(sqlite3 store.db 'SELECT count(*) FROM event WHERE gone_batch_id IS NOT NULL')" = 1
holds test "$(sqlite3 store.db 'SELECT count(*) FROM reading WHERE gone_batch_id IS NOT NULL')" -ge 2
run load --store store.db all.csv
exits 0
says "back that went earlier"
holds test "$(sqlite3 store.db 'SELECT (SELECT count(*) FROM implant WHERE gone_batch_id IS NOT NULL) + (SELECT count(*) FROM reading WHERE gone_batch_id IS NOT NULL) + (SELECT count(*) FROM event WHERE gone_batch_id IS NOT NULL)')" = 0
run load --store store.db --whole --kind events fewer.csv
exits 0
holds test "$(sqlite3 store.db 'SELECT count(*) FROM implant WHERE gone_batch_id IS NOT NULL')" = 0
holds test "$(sqlite3 store.db 'SELECT count(*) FROM event WHERE gone_batch_id IS NOT NULL')" = 1
