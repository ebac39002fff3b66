#!/bin/sh
# large-sheet.sh PROGRAMS: a sheet of 200 MB is loaded, and checked, in bounded memory. Takes some minutes and 1 GB of disk.
# The practice has 560,000 implants; IMPLANTS sets another size for a trial.
set -eu
programs=$1
most_kib=65536
implants=${IMPLANTS:-560000}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"$programs/bench-practice" --implants "$implants" --out "$folder"
bytes=$(wc -c < "$folder/followups.csv")
if [ -z "${IMPLANTS:-}" ] && [ "$bytes" -lt 200000000 ]; then
    echo "large-sheet: the sheet has only $bytes bytes" >&2
    exit 1
fi
"$programs/ridgetally" new --store "$folder/practice.db" > /dev/null
failed=0
for kind in implants followups events; do
    set -- $("$programs/bench-measure" 1 "" \
        "'$programs/ridgetally' load --store '$folder/practice.db' '$folder/$kind.csv' > '$folder/said'")
    new=$(sed -n 's/.* rows: \([0-9]*\) new, 0 changed, 0 unchanged, 0 refused$/\1/p' "$folder/said")
    rows=$(($(wc -l < "$folder/$kind.csv") - 1))
    echo "large-sheet: $kind.csv, $(($(wc -c < "$folder/$kind.csv") / 1000000)) MB, $rows rows: peak $3 KiB, $2 s of processor"
    if [ "$3" -gt "$most_kib" ]; then
        echo "large-sheet: more than $most_kib KiB" >&2
        failed=1
    fi
    if [ "${new:-0}" -ne "$rows" ]; then
        echo "large-sheet: ${new:-0} rows came in" >&2
        failed=1
    fi
done
"$programs/ridgetally" verify --store "$folder/practice.db" > /dev/null || failed=1
exit $failed
