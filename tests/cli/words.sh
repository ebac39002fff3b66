# The words of a command-line case.
#
#   test_that WHAT              begins a test; it passes when every expectation up to the next one holds
#   run ARGUMENT...             runs the program; stdout goes to ./out, stderr to ./err
#   run_with INPUT ARGUMENT...  the same with a file as standard input
#   exits N                     the last run's exit code
#   prints <<END                stdout is exactly this         complains <<END   stderr is exactly this
#   says TEXT / says_not TEXT   stdout has (has not) this      warns TEXT        stderr has this
#   silent                      stderr is empty
#   has FILE TEXT / lacks FILE TEXT                            a file has (has not) this text
#   same FILE FILE              two files are the same, byte for byte
#   holds COMMAND...            any command that must succeed
#   count N COMMAND...          a command's output is N lines
#
# TEXT is fixed text, not a pattern. Any run that ends by a signal or a sanitizer fails its test.

test_name=
finish_test() {
    [ -n "$test_name" ] || return 0
    if [ -n "$trouble" ]; then
        echo "fail $CASE: $test_name" >> "$RESULTS"
        printf -- '--- %s: %s\n%s' "$CASE" "$test_name" "$trouble"
    else
        echo "pass $CASE: $test_name" >> "$RESULTS"
    fi
    test_name=
}

test_that() {
    finish_test
    test_name=$1 trouble= status=
}

wrong() {
    trouble="$trouble    $1
"
}

show() {
    head -c 1500 "$1" | sed 's/^/        /'
}

run_with() {
    input=$1
    shift
    command_line="ridgetally $*"
    status=0
    "$RIDGETALLY" "$@" > out 2> err < "$input" || status=$?
    if [ "$status" -gt 4 ]; then wrong "$command_line: ended with $status:
$(show err)"; fi
    if grep -qE 'AddressSanitizer|runtime error:|LeakSanitizer' err; then wrong "$command_line: sanitizer:
$(show err)"; fi
    return 0
}

run() {
    run_with /dev/null "$@"
}

exits() {
    [ "$status" = "$1" ] || wrong "$command_line: exit $status, not $1:
$(show err)"
}

prints() {
    cat > expected
    cmp -s expected out || wrong "$command_line: stdout differs:
$(diff expected out | head -20 | sed 's/^/        /')"
}

complains() {
    cat > expected
    cmp -s expected err || wrong "$command_line: stderr differs:
$(diff expected err | head -20 | sed 's/^/        /')"
}

has() {
    grep -qF -e "$2" "$1" || wrong "$1 lacks '$2':
$(show "$1")"
}

lacks() {
    if grep -qF -e "$2" "$1"; then wrong "$1 has '$2'"; fi
}

says() { has out "$1"; }
says_not() { lacks out "$1"; }
warns() { has err "$1"; }

silent() {
    [ ! -s err ] || wrong "$command_line: stderr is not empty:
$(show err)"
}

same() {
    cmp -s "$1" "$2" || wrong "$1 and $2 differ"
}

holds() {
    "$@" > held 2>&1 || wrong "does not hold: $*
$(show held)"
}

count() {
    wanted=$1
    shift
    lines=$("$@" | wc -l)
    [ "$lines" -eq "$wanted" ] || wrong "$*: $lines lines, not $wanted"
}
