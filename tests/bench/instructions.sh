#!/bin/sh
# Count the instructions of the hot paths under callgrind, and hold them against what is stored in instructions.txt. Unlike
# seconds, they do not depend on what else runs. A count is of one part: the program's own code, SQLite's, GSL's, or all that was
# done within a function. A part is compared only where its compiler or library is the one it was stored with: other versions
# of those do other work for the same calls. libc's part is never compared by itself: it depends on the processor.
# Usage: PROGRAMS=folder [SCENES="mixed hazard"] instructions.sh check|store FOLDER
set -eu
what=$1 folder=$2
every="load figures page read survival hazard mixed"
SCENES=${SCENES:-$every}
[ "$what" = check ] || [ "$SCENES" = "$every" ] || { echo "instructions: all scenes are stored together" >&2; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
stored=$here/instructions.txt
program=$(cd "$PROGRAMS" && pwd)/ridgetally
practice=$(cd "$PROGRAMS" && pwd)/bench-practice
export SOURCE_DATE_EPOCH=1798761600 LC_ALL=C TZ=UTC
unset RIDGETALLY_STORE RIDGETALLY_KEY
# A count may rise by this share of what is stored; when it falls by as much, the stored one should be lowered.
TOLERANCE=0.05

command -v valgrind > /dev/null || { echo "instructions: skipped: valgrind is not installed"; exit 0; }
if [ "$what" = check ] && ! grep -q '^compiler ' "$stored"; then
    echo "instructions: skipped: no counts are stored yet (make store-instructions)"
    exit 0
fi
rm -rf "$folder"
mkdir -p "$folder"
cd "$folder"

# library NAME: the version of a shared library that the program loads.
library() {
    path=$(readlink -f "$(ldd "$program" | awk -v name="lib$1.so" 'index($1, name) == 1 { print $3 }')")
    owner=$(dpkg -S "$path" 2> /dev/null || dpkg -S "${path#/usr}" 2> /dev/null || true)
    version=$(dpkg-query -W -f='${Version}' "${owner%%: *}" 2> /dev/null || true)
    echo "$1 ${version:-$(sha256sum "$path" | cut -c1-16)}"
}

versions() {
    echo "compiler $(${CC:-cc} --version | sed -n 1p | tr ' ' '_')"
    echo "machine $(uname -m)"
    for name in sqlite3 gsl c; do library $name; done
}

# scene NAME COMMAND...: run it under callgrind; lines `NAME PART COUNT`. FUNCTIONS names functions counted with all they call.
scene() {
    name=$1
    shift
    case " $SCENES " in
    *" $name "*) ;;
    *) return 0 ;;
    esac
    valgrind --tool=callgrind --callgrind-out-file="$name.callgrind" "$program" "$@" > "$name.out" 2> "$name.err" || [ $? -eq 1 ] || {
        tail -n 5 "$name.err" >&2
        exit 1
    }
    awk -v scene="$name" -v functions="${FUNCTIONS:-}" '
    function full(text,    id) { # (id) name, or (id) alone for a name that was there before
        id = substr(text, 1, index(text, ")"))
        if (length(text) > length(id))
            names[kind, id] = substr(text, length(id) + 2)
        return names[kind, id]
    }
    function called(name) {
        sub(/\x27.*/, "", name) # a recursive call
        return index(" " functions " ", " " name " ") > 0
    }
    /^ob=/ { kind = "o"; object = full(substr($0, 4)); next }
    /^cob=/ { kind = "o"; full(substr($0, 5)); next }
    /^fn=/ { kind = "f"; full(substr($0, 4)); next }
    /^cfn=/ { kind = "f"; callee = full(substr($0, 5)); next }
    /^calls=/ { after_call = 1; next }
    /^[0-9+*-]/ {
        if (after_call) {
            if (called(callee))
                within[callee] += $2
            after_call = 0
        } else if (object ~ /\/ridgetally$/)
            own += $2
        else if (object ~ /\/libsqlite3[.]/)
            sqlite += $2
        else if (object ~ /\/libgsl/)
            gsl += $2
    }
    END {
        printf "%s own %.0f\n", scene, own
        if (sqlite > 1e6) printf "%s sqlite3 %.0f\n", scene, sqlite
        if (gsl > 1e6) printf "%s gsl %.0f\n", scene, gsl
        n = split(functions, wanted, " ")
        for (i = 1; i <= n; i++)
            printf "%s %s %.0f\n", scene, wanted[i], within[wanted[i]]
    }' "$name.callgrind" | tee -a counts >&2
}

mkdir files small
"$practice" --implants 1000 --out files
"$practice" --implants 250 --out small
"$program" new --store store.db > new.out
"$program" new --store small.db >> new.out
"$program" load --store small.db small/*.csv > load.out

# Times with many ties in 4,000 clusters; the numbers come from a generator that every awk computes alike.
awk 'function next_number() { seed = (seed * 16807) % 2147483647; return seed / 2147483647 }
BEGIN {
    seed = 20260930
    print "cluster,time,event,x,z,response"
    for (i = 0; i < 20000; i++) {
        x = next_number(); z = next_number() < 0.4 ? "yes" : "no"
        printf "%d,%d,%d,%.4f,%s,%.4f\n", i % 4000, 1 + int(-400 * log(next_number()) / (1 + x)), next_number() < 0.6, x, z,
            0.5 * x + (i % 4000) / 8000 + next_number()
    }
}' > data.csv

: > counts
scene load load --store store.db files/implants.csv files/followups.csv files/events.csv
FUNCTIONS=
scene figures figures --store store.db
FUNCTIONS="rt_plan_audit rt_compose_page"
scene page audit --store small.db --out report
FUNCTIONS=
scene read reckon mean --value level_mesial_mm files/followups.csv
scene survival reckon survival --time time --event event --by z --cluster cluster data.csv
scene hazard reckon hazard --time time --event event --numbers x --categories z --cluster cluster data.csv
scene mixed reckon mixed --response response --numbers x --categories z --cluster cluster data.csv

if [ "$what" = store ]; then
    {
        sed -n '/^#/p' "$stored"
        versions
        cat counts
    } > stored
    mv stored "$stored"
    echo "stored in tests/bench/instructions.txt: say in the commit why a count rose"
    exit 0
fi
versions > versions
awk -v tolerance="$TOLERANCE" -v scenes=" $SCENES " '
FNR == 1 { file++ }
/^#/ { next }
file == 1 && NF == 2 { version[$1] = $2; next }
file == 1 && index(scenes, " " $1 " ") { stored[$1, $2] = $3; rows++; next }
file == 1 { next }
file == 2 {
    if (version[$1] != $2) {
        other[$1] = 1
        printf "not compared: counts were stored with %s %s, here is %s\n", $1, version[$1], $2
    }
    next
}
{
    seen++
    part = $2 ~ /^rt_/ ? "c" : $2
    if (other["compiler"] || other["machine"] || other[part] || ($2 ~ /^rt_/ && (other["sqlite3"] || other["gsl"])))
        next
    if (!(($1, $2) in stored)) {
        printf "%s, %s: %.0f instructions, none stored\n", $1, $2, $3
        bad = 1
        next
    }
    compared++
    change = $3 / stored[$1, $2] - 1
    printf "%-9s %-16s %14.0f %14.0f %+7.2f%%%s\n", $1, $2, stored[$1, $2], $3, 100 * change,
        (change > tolerance ? "  ROSE" : change < -tolerance ? "  fell: lower what is stored" : "")
    if (change > tolerance) bad = 1
}
END {
    if (seen != rows) { printf "%d counts are stored, %d were made\n", rows, seen; bad = 1 }
    if (bad) print "A count that rose is slower code, or more work that is wanted: then `make store-instructions`, and say why in the commit."
    else printf "instructions: %d counts compared, none rose by more than %g%%\n", compared, 100 * tolerance
    exit bad
}' "$stored" versions counts
