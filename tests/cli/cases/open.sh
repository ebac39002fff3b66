# --open: the page in the user's browser, which here is a script that notes what it was given.

cat > implants.csv <<END
patient,implant,tooth,placed_on,operator
p1,a,36,2026-01-05,A
p2,a,46,2026-04-02,A
END
run new
run load implants.csv
mkdir bin
cat > bin/noting <<END
#!/bin/sh
echo "\$# \$1" > "$PWD/opened"
END
cat > bin/failing <<END
#!/bin/sh
exit 3
END
cat > bin/staying <<END
#!/bin/sh
echo "\$\$" > "$PWD/stays"
exec sleep 30
END
chmod +x bin/*
PATH=$PWD/bin:$PATH

test_that "--open gives the browser the whole path of the page as one argument"
BROWSER=noting run audit --open --out 'a folder; touch hurt $(touch hurt)'
exits 0
silent
holds test "$(cat opened)" = "1 $PWD/a folder; touch hurt \$(touch hurt)/audit.html"
holds test ! -e hurt
says "audit.html"

test_that "without --open no browser is started"
rm -f opened
BROWSER=noting run audit
exits 0
holds test ! -e opened

test_that "of several browsers the first that works is taken"
rm -f opened
BROWSER=nowhere-to-be-found:failing:noting run audit --open
exits 0
holds test -s opened

test_that "without BROWSER xdg-open is asked"
rm -f opened
mv bin/noting bin/xdg-open
BROWSER= run audit --open
exits 0
holds test -s opened

test_that "a browser that stays open is not waited for, not even by a reader of the output"
started=$(date +%s)
page=$(BROWSER=staying "$RIDGETALLY" audit --open 2> err)
holds test "$page" = audit-2026Q1/audit.html
holds test $(($(date +%s) - started)) -lt 25
holds kill "$(cat stays)"

test_that "a browser that cannot be started is a failure of the system, and the page is there"
rm -f audit-2026Q1/audit.html
BROWSER=failing run audit --open
exits 4
says "audit-2026Q1/audit.html"
warns "open audit-2026Q1/audit.html yourself"
holds test -s audit-2026Q1/audit.html
BROWSER=nowhere-to-be-found run audit --open
exits 4
warns "No such file or directory"

test_that "due shows its page too, and has none to show as CSV"
rm -f opened
run due --open
exits 0
holds test "$(cat opened)" = "1 $PWD/$(cat out)"
run due --as csv --open
exits 2
warns "--open is for the page"

test_that "trend and deck show their pages"
rm -f opened
run trend --operator A --open
exits 0
says "trend/trend.html"
holds test "$(cat opened)" = "1 $PWD/$(cat out)"
rm -f opened
run deck --out 'a deck' --open
exits 0
says "a deck/deck.html"
holds test "$(cat opened)" = "1 $PWD/$(cat out)"

test_that "a trend or a deck that no browser shows is there all the same"
rm -f trend/trend.html 'a deck/deck.html'
BROWSER=failing run trend --operator A --open
exits 4
warns "open trend/trend.html yourself"
holds test -s trend/trend.html
BROWSER=failing run deck --out 'a deck' --open
exits 4
warns "open a deck/deck.html yourself"
holds test -s 'a deck/deck.html'
