# `ridgetally` alone: what to do next, from the state of the store.

short() {
    exits 0
    silent
    holds test "$(wc -l < out)" -le 10
    says 'ridgetally --help'
}

test_that "without a store it says how to begin"
run
short
says "There is no store at practice.db."
says "  ridgetally demo "
says "  ridgetally new "
holds test ! -e practice.db

test_that "a store that is named and not there is named"
RIDGETALLY_STORE=else/where.db run
short
says "There is no store at else/where.db."

test_that "an empty store wants records"
run new
run
short
says "practice.db has no records yet."
says "  ridgetally load "
says "  ridgetally match "
says_not "  ridgetally audit "
says_not "  ridgetally doubts "

test_that "rows that were all refused are doubts, not nothing"
printf 'patient,implant,tooth,placed_on\np1,a,99,2026-01-05\n' > refused.csv
run load refused.csv
exits 1
run
short
says "practice.db has no records yet."
says "1 doubt waits: 1 refused row, 0 that keep cases out of figures"

test_that "records of one quarter: the quarter before is complete, and not audited"
cat > implants.csv <<END
patient,implant,tooth,placed_on,operator
p1,a,36,2026-01-05,A
p2,a,46,2026-04-02,A
END
run load implants.csv
exits 0
run
short
says "practice.db: records from 2026-01-05 to 2026-04-02. Next:"
says "  ridgetally audit "
says "2026Q1 is complete and has not been audited"
says "  ridgetally quarter FILE..."
says "  ridgetally deck "
says "  ridgetally trend --operator LABEL  "
says_not "  ridgetally note "

test_that "after the audit it no longer asks for it"
run audit
exits 0
run
short
says_not "  ridgetally audit "

test_that "an audit of another period does not count, and a correction makes the audit old"
sed 's/p1,a,36/p1,a,37/' implants.csv > corrected.csv
run load corrected.csv
exits 0
run
short
says "2026Q1 was audited, but its records have changed since"
run audit
run
says_not "  ridgetally audit "
printf 'patient,implant,tooth,placed_on,operator\np3,a,36,2026-07-01,A\n' > later.csv
run load later.csv
run
says "2026Q2 is complete and has not been audited"

test_that "decisions are counted from their day on"
run note --decision "look at depth again" --by AB --due 2026-06-01 --on 2026-04-20
exits 0
run note --decision "look at torque again" --by AB --due 2026-07-01 --on 2026-04-20
exits 0
SOURCE_DATE_EPOCH=$(date -u -d 2026-05-31 +%s) run
says_not "  ridgetally note "
SOURCE_DATE_EPOCH=$(date -u -d 2026-06-01 +%s) run
says "1 decision is due for an answer"
SOURCE_DATE_EPOCH=$(date -u -d 2026-07-01 +%s) run
short
says "2 decisions are due for an answer"
run note --answer 1 --reply "it was looked at" --by AB --period 2026Q2
exits 0
SOURCE_DATE_EPOCH=$(date -u -d 2026-07-01 +%s) run
says "1 decision is due for an answer"

test_that "it writes nothing into the store"
cp practice.db before.db
run
same practice.db before.db

test_that "a store that is none of ours is refused"
echo text > foreign.db
RIDGETALLY_STORE=foreign.db run
exits 3
warns "foreign.db"

test_that "a full disk under standard output is a failure of the system"
status=0
"$RIDGETALLY" > /dev/full 2> err || status=$?
command_line="ridgetally > /dev/full"
exits 4
