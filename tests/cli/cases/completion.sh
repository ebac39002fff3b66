# Completion: in bash, also in a real interactive one, and in zsh where it is installed.

mkdir bin
ln -s "$RIDGETALLY" bin/ridgetally
PATH=$PWD/bin:$PATH
touch 'jan sheet.csv' jun.map
mkdir folder

# complete WORD...: what is offered for the last word, one a line
complete() {
    bash --norc -c '. "$SOURCE/reports/completion/ridgetally.bash"
        COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
        _ridgetally
        [ "${#COMPREPLY[@]}" -eq 0 ] || printf "%s\n" "${COMPREPLY[@]}"' bash ridgetally "$@" | sort > offered
}

offers() {
    for one in "$@"; do printf '%s\n' "$one"; done | sort > wanted
    cmp -s wanted offered || wrong "offered is not '$*':
$(show offered)"
}

run --help
cp out verbs_help
sed -n 's/^  \([a-z][a-z-]*\)  *[a-z].*/\1/p' verbs_help > verbs

test_that "every verb is offered"
complete ''
{ cat verbs; echo --help; echo --version; } | sort > wanted
same wanted offered
complete unt
offers
complete und
offers undo

test_that "every option of every verb's help is offered, and the verb knows each"
while read -r verb; do
    run "$verb" --help
    { grep -o -e '--[a-z][a-z-]*' out; echo --help; } | sort -u > wanted
    cp wanted options
    complete "$verb" --
    same wanted offered
    [ "$verb" != reckon ] || continue
    while read -r option; do
        [ "$option" != --help ] || continue
        run "$verb" "$option"
        lacks err "there is no option"
    done < options
    cat options >> all_options
done < verbs

test_that "no verb has an option that its help does not have"
find "$SOURCE/src/cli" -maxdepth 1 -name '*.c' ! -name 'reckon*' -exec grep -ho '"--[a-z][a-z-]*", RT_OPTION' {} + |
    grep -o -e '--[a-z-]*' | sort -u > in_source
grep -ho 'RT_FILTER_TEXT("--[a-z-]*"' "$SOURCE"/include/ridgetally/cli/filters.h | grep -o -e '--[a-z-]*' >> in_source
holds test "$(wc -l < in_source)" -gt 40
sort -u in_source > wanted
sort -u all_options > helped
count 0 comm -23 wanted helped

test_that "options of the methods of reckon"
run reckon --help
sed -n 's/^  \([a-z][a-z-]*\) .*/\1/p' out > methods
holds test "$(wc -l < methods)" -gt 20
{ cat methods; echo --help; } | sort > wanted
complete reckon ''
same wanted offered
while read -r method; do
    run reckon "$method" --help
    { grep -o -e '--[a-z][a-z-]*' out; echo --help; } | sort -u > wanted
    complete reckon "$method" --
    same wanted offered
done < methods

test_that "words that an option takes"
complete doubts --as ''
offers csv table
complete doubts --as =
offers csv table
complete doubts --as = t
offers table
complete load --kind e
offers events
complete setting recall
offers recall_interval_months

test_that "files and folders where they belong, names with spaces whole"
complete load ja
offers "jan sheet.csv"
complete match ju
offers jun.map
complete audit --out ''
offers bin folder
complete doubts --answers ja
offers "jan sheet.csv"
complete verify ''
offers --help --store
complete audit --period ''
offers

test_that "an unknown verb, and words of the line, do nothing"
complete '$(touch hurt)' ''
complete audit '--as$(touch hurt)' ''
complete audit '--`touch hurt`' ''
complete audit '--as/e touch hurt;#' ''
holds test ! -e hurt

test_that "in a real bash: tabs make the line"
if command -v script > /dev/null; then
    {
        sleep 1
        printf '. "$SOURCE/reports/completion/ridgetally.bash"; bind "set bell-style none"\n'
        sleep 1
        printf 'ridgetally verif\t--hel\t> typed\n'
        sleep 1
        printf 'exit\n'
    } | TERM=dumb INPUTRC=/dev/null script -qec 'bash --norc --noprofile -i' /dev/null > session 2>&1
    has typed "ridgetally verify: tell a damaged store from a good one"
fi

test_that "zsh offers the same"
if command -v zsh > /dev/null; then
    cat > offered_by.zsh <<'END'
compadd() { shift; print -rl -- $@ }
_describe() { print -rl -- ${${(P)2}%%:*} }
_files() { print -r -- "files $*" }
_message() { : }
compset() { : }
words=("$@") CURRENT=$#
. $SOURCE/reports/completion/_ridgetally
END
    in_zsh() {
        zsh -f offered_by.zsh ridgetally "$@" 2> err | sort -u > offered
        silent
    }
    in_zsh ''
    sort verbs > wanted
    same wanted offered
    while read -r verb; do
        run "$verb" --help
        { grep -o -e '--[a-z][a-z-]*' out; echo --help; } | sort -u > wanted
        in_zsh "$verb" --
        same wanted offered
    done < verbs
    in_zsh reckon ''
    sort methods > wanted
    same wanted offered
    in_zsh doubts --as ''
    offers csv table
    in_zsh load ''
    offers "files "
    in_zsh audit --out ''
    offers "files -/"
fi
