# README.md is true: its tour is typed in and must answer as printed, its two commands are single lines.

readme=$SOURCE/README.md

test_that "it opens with one paragraph and then exactly two commands"
sed -n '/^```sh$/,/^```$/{/^```/d;p;}' "$readme" > commands
count 2 cat commands
holds sh -c 'sed -n 1p commands | grep -q "make demo$"'
holds sh -c 'sed -n 2p commands | grep -q "make check$"'
holds sh -n commands
holds test "$(sed -n '3,/^$/p' "$readme" | grep -c .)" -gt 3
holds test "$(awk '/^```sh/ { exit } /^$/ { n++ } END { print n }' "$readme")" -le 3

test_that "every command of the tour answers as printed"
mkdir path
ln -s "$RIDGETALLY" path/ridgetally
PATH=$PWD/path:$PATH
sed -n '/^```console$/,/^```$/{/^```/d;p;}' "$readme" > tour
holds test "$(grep -c '^\$ ' tour)" -ge 10
: > answer
while IFS= read -r line; do
    case $line in
    '$ '*)
        status=0
        command_line=${line#\$ }
        sh -c "$command_line" > answer 2> err < /dev/null || status=$?
        # sample records have refused rows on purpose: exit 1
        holds test "$status" -le 1
        ;;
    *) has answer "$line" ;;
    esac
done < tour

test_that "the finding quoted from the report stands there"
sed 's/<[^>]*>//g' demo/audit.html > words
has words "$(sed -n 's/^> //p' "$readme")"

test_that "the interval quoted beside the truth is a figure"
ridgetally figures --store demo/practice.db | grep '^depth,depth_bias,window|operator,period|B,.*,implant,' | cut -d, -f11,12 > interval
holds awk -F, '{ exit !(sprintf("%.2f to %.2f", $1, $2) == "-0.34 to -0.19") }' interval
has "$readme" "-0.34 to -0.19 mm"
has "$SAMPLE/README.md" "| depth_bias_B | -0.25 |"

test_that "folders and files it names are there"
for name in DEVELOPERS.md LICENSE sample-data/README.md; do
    holds test -s "$SOURCE/$name"
done

test_that "the developers' page names only folders, files and targets that are there"
page=$SOURCE/DEVELOPERS.md
# in backquotes: a path with a slash and no capitals, spaces, options or patterns
grep -o '`[^`]*`' "$page" | tr -d '`' | grep -E '^\.?[a-z-]+/[a-z0-9_./-]*$' | sort -u > paths
holds test "$(grep -c . paths)" -gt 10
while read -r path; do
    holds sh -c 'test -e "$SOURCE/$1" || test -e "$SOURCE/include/ridgetally/$1" || test "${1%%/*}" = build' sh "$path"
done < paths
grep -o '`make [a-z-]*' "$page" | sed 's/`make //' | sort -u > targets
holds test "$(grep -c . targets)" -gt 8
while read -r target; do
    holds grep -qE "^([a-z-]+ )*$target( [a-z-]+)*:" "$SOURCE/Makefile" "$SOURCE"/.ci/make/*.mk
done < targets
for layer in "$SOURCE"/src/*/; do
    has "$page" "| \`src/$(basename "$layer")\` |"
done
