# The settings of the practice.

run new --practice "Invented <b>Practice</b>" --complete-since 2020-07-01 --primary-reader R1

test_that "setting lists all settings with their meaning"
run setting
exits 0
prints <<'END'
practice_name: the name printed on every page
  Invented <b>Practice</b>
complete_since: from this day on every placement is in the records; survival counts from here
  2020-07-01
recall_interval_months: how long a patient may stay away before counting as lost
  12
primary_reader: the reader whose first readings are analysed
  R1
deck_threshold: cells of fewer patients than this are withheld from a deck
  5
END

test_that "a setting is changed, shown and cleared"
run setting recall_interval_months 6
exits 0
run setting recall_interval_months
prints <<'END'
6
END
run setting primary_reader ""
exits 0
run setting primary_reader
prints <<'END'

END
run setting complete_since ""
exits 0
run verify
exits 0

test_that "a value that does not fit is refused in words and changes nothing"
run setting complete_since 01.07.2020
exits 2
complains <<'END'
ridgetally: complete_since is a date, not '01.07.2020': write it as YYYY-MM-DD, or '' for none
END
for value in 0 121 1.5 soon "" +6; do
    run setting recall_interval_months "$value"
    exits 2
    complains <<END
ridgetally: recall_interval_months is a whole number from 1 to 120, not '$value'
END
done
run setting deck_threshold 1
exits 2
run setting hash_salt
exits 2
run setting hash_salt 00
exits 2
complains <<'END'
ridgetally: there is no setting 'hash_salt': `ridgetally setting` lists them
END
run setting recall_interval_months
prints <<'END'
6
END

test_that "quotes and commands in a value stay text"
for value in "O'Brien\"; DROP TABLE setting; --" '$(touch x)' '`touch x`'; do
    run setting practice_name "$value"
    exits 0
    run setting practice_name
    holds test "$(cat out)" = "$value"
done
holds test ! -e x
