# The program before any verb.

test_that "--help says how it is used"
run --help
exits 0
says "Usage: ridgetally VERB [options]"
says "  reckon "
silent

test_that "--help lists every verb of the table, and each has help of its own"
run --help
exits 0
cp out verbs
sed -n 's/^  \([a-z][a-z-]*\)  *[a-z].*/\1/p' verbs > names
holds test -s names
while read -r verb; do
    run "$verb" --help
    exits 0
    says "ridgetally $verb"
    silent
done < names

test_that "--version names program and version"
run --version
exits 0
prints <<END
ridgetally $(cat "$SOURCE/src/version")
END

test_that "an unknown verb is bad use"
run frobnicate
exits 2
prints < /dev/null
complains <<'END'
ridgetally: there is no verb 'frobnicate': `ridgetally --help` lists the verbs
END

test_that "an unknown verb with control characters does not reach the terminal raw"
run "$(printf 'x\033[31m')"
exits 2
holds sh -c '! grep -q "$(printf "\033")" err'

test_that "every verb refuses an unknown option with exit 2"
while read -r verb; do
    run "$verb" --no-such-option
    exits 2
    warns "--no-such-option"
    warns "ridgetally: "
done < names

test_that "a full disk under standard output is a failure of the system"
for words in --help --version "reckon --help"; do
    status=0
    # shellcheck disable=SC2086
    "$RIDGETALLY" $words > /dev/full 2> err || status=$?
    command_line="ridgetally $words > /dev/full"
    exits 4
    warns "ridgetally: "
done
