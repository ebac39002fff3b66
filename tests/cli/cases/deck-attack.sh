# Decks as they were written, attacked: quarters against a year, filters against the whole, each other and the next quarter, survival
# years, early failures against those within a year. See tests/cli/attack-deck.c, which holds the same list of decks.
# ATTACK_ALL=yes issues more decks of each practice, which takes minutes; ATTACKED_PRACTICES="1 2 3 4" attacks more practices.

no_charts=$PWD/tools # a deck without charts is written in a tenth of the time, and holds the same numbers
mkdir tools
for tool in sh cat rm grep head sed; do ln -s "$(command -v $tool)" "tools/$tool"; done

# deck NAME ARGUMENT...: what the deck shows, and what it would show without protection
deck() {
    name=$1
    shift
    PATH=$no_charts run deck "$@" --out "$name"
    run figures --as csv "$@"
    cp out "$name.csv"
}

for seed in ${ATTACKED_PRACTICES:-1 2}; do
    mkdir "practice-$seed"
    "$ATTACK_DECK" make "$seed" "practice-$seed"
    cd "practice-$seed"
    run new
    run load implants.csv followups.csv events.csv
    [ -z "${ATTACK_ALL:-}" ] || deck d0 --period 2025Q3
    deck d1 --period 2025Q4
    deck d2 --from 2025-01-01 --to 2025-12-31
    if [ -n "${ATTACK_ALL:-}" ]; then
        deck d3 --period 2025Q4 --smoking never
        deck d4 --period 2026Q1
    fi
    deck d5 --period 2026Q2
    deck d6 --period 2026Q2 --operator A
    deck d7 --period 2026Q2 --smoking never
    if [ -n "${ATTACK_ALL:-}" ]; then
        deck d8 --period 2026Q2 --jaw upper
        deck d9 --period 2026Q2 --operator A --smoking never
        deck d10 --from 2026-01-01 --to 2026-06-30
    fi
    cd ..
done

test_that "an attacker who has all decks of a practice finds no group of one to four implants in them"
holds "$ATTACK_DECK" attack practice-*
