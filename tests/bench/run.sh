#!/bin/sh
# The table of ratios: the program beside its peers, every peer run in this call, medians of RUNS runs.
# Environment: PROGRAMS (folder of the built programs), FOLDER (where files and ratios.txt go), SIZES (implants), RUNS, R_MOST.
set -eu
program=$PROGRAMS/ridgetally
here=$(dirname "$0")
table=$FOLDER/ratios.txt
export SOURCE_DATE_EPOCH=1798761600 LC_ALL=C

# Seconds on the clock, of the processor, peak in KiB. Above 100,000 implants one run is taken, of R from 10,000 up.
measure() { # BEFORE COMMAND
    "$PROGRAMS/bench-measure" "$runs" "$1" "$2"
}

line() { # SIZE WHAT PEER OURS... PEERS...
    echo "$@" | awk '{ printf "%9d  %-30s %9.2f %9.2f %7.2fx %9.2f %9.2f %7.2fx %8.1f %8.1f %6.2fx\n",
        $1, $2 " / " $3, $4, $7, $4 / $7, $5, $8, $5 / $8, $6 / 1024, $9 / 1024, $6 / $9 }' | tee -a "$table"
}

heading() {
    {
        echo "machine: $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1), $(nproc) cores," \
            "$(awk '/MemTotal/ { printf "%.0f GiB", $2 / 1048576 }' /proc/meminfo); load $(cut -d' ' -f1 /proc/loadavg)" \
            "at the start; medians of $RUNS runs"
        echo "sqlite3 $(sqlite3 --version | cut -d' ' -f1), $(gnuplot --version), $(Rscript --version 2>&1)"
        echo "                                            seconds on the clock        seconds of processor            peak MiB"
        echo " implants  ours / peer                         ours      peer   ratio      ours      peer   ratio     ours     peer  ratio"
    } | tee "$table"
}

files_of() { # SIZE: make the three files once
    folder=$FOLDER/$1
    [ -e "$folder/made" ] && return
    mkdir -p "$folder"
    "$PROGRAMS/bench-practice" --implants "$1" --out "$folder"
    touch "$folder/made"
}

# .import with the same syncs and the same cache; first into typed STRICT tables with the same keys, then into tables of loose types,
# in which empty cells stay text.
import_peer() { # SQL SUFFIX OF THE NAMES
    measure "rm -f '$folder/peer.db' && sqlite3 '$folder/peer.db' < '$here/$1'" \
        "sqlite3 '$folder/peer.db' 'PRAGMA synchronous = EXTRA' 'PRAGMA cache_size = -16384' \
            '.import --csv --skip 1 $folder/implants.csv implant$2' '.import --csv --skip 1 $folder/followups.csv reading$2' \
            '.import --csv --skip 1 $folder/events.csv event$2'"
}

bench_load() { # SIZE
    ours=$(measure "rm -f '$folder/store.db' && '$program' new --store '$folder/store.db'" \
        "'$program' load --store '$folder/store.db' '$folder/implants.csv' '$folder/followups.csv' '$folder/events.csv'")
    line "$1" load .import-strict $ours $(import_peer import.sql _sheet)
    line "$1" load .import-loose $ours $(import_peer import-loose.sql "")
    parts=$("$PROGRAMS/bench-parts" "$folder/store.db" "$folder/implants.csv" "$folder/followups.csv" "$folder/events.csv")
    echo "$parts" | awk '{ printf "%9s  of which, of the processor: reading and hashing the files %.2f s (in the second thread), all checks once %.2f s, seals of all pages once %.2f s\n", "", $1, $2, $3 }' |
        tee -a "$table"
    echo "$1 $ours" >> "$FOLDER/load.txt"
    rm -f "$folder/peer.db"
}

# Beside R without resampling; alone with it, as users run it: growth is that of these.
bench_figures() { # SIZE
    if [ "$1" -le "$R_MOST" ]; then
        ours=$(measure "" "'$program' figures --without-resampling --store '$folder/store.db'")
        [ "$1" -lt 10000 ] || runs=1
        line "$1" figures R $ours $(measure "" "Rscript '$here/analyses.R' '$folder' 2>'$FOLDER/R.words'")
    fi
    ours=$(measure "" "'$program' figures --store '$folder/store.db'")
    echo "$1 $ours" | awk '{ printf "%9d  %-30s %9.2f %27.2f %27.1f\n", $1, "figures, with resampling", $2, $3, $4 / 1024 }' | tee -a "$table"
    echo "$1 $ours" >> "$FOLDER/figures.txt"
}

# What gnuplot is given by one audit is kept and given to gnuplot alone: by one process, in turn.
bench_report() { # SIZE
    kept=$FOLDER/gnuplot
    rm -rf "$kept"
    mkdir -p "$kept/bin"
    printf '#!/bin/sh\ntee "%s/$$" | %s "$@"\n' "$kept" "$(command -v gnuplot)" > "$kept/bin/gnuplot"
    chmod +x "$kept/bin/gnuplot"
    PATH="$kept/bin:$PATH" "$program" audit --store "$folder/store.db" --out "$folder/report" > /dev/null
    sleep 1 # for what passed on the last commands
    ours=$(measure "rm -rf '$folder/report'" "'$program' audit --store '$folder/store.db' --out '$folder/report'")
    line "$1" report gnuplot-alone $ours $(measure "" "for s in '$kept'/[0-9]*; do gnuplot -d \"\$s\" > '$kept/drawn' || exit 1; done")
}

heading
: > "$FOLDER/figures.txt"
: > "$FOLDER/load.txt"
runs=$RUNS
files_of 500
bench_load 500
bench_report 500
for size in $SIZES; do
    runs=$RUNS
    [ "$size" -le 100000 ] || runs=1
    files_of "$size"
    bench_load "$size"
    bench_figures "$size"
done
echo "growth beyond linear of figures with resampling, clock and processor:" | tee -a "$table"
awk 'NR > 1 { printf "  %d to %d implants: %.2f %.2f\n", n, $1, $2 / c / ($1 / n), $3 / p / ($1 / n) } { n = $1; c = $2; p = $3 }' \
    "$FOLDER/figures.txt" | tee -a "$table"
echo "growth beyond linear of load, clock and processor:" | tee -a "$table"
awk 'NR > 1 { printf "  %d to %d implants: %.2f %.2f\n", n, $1, $2 / c / ($1 / n), $3 / p / ($1 / n) } { n = $1; c = $2; p = $3 }' \
    "$FOLDER/load.txt" | tee -a "$table"
echo "kept in $table"
