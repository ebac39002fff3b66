/* Two decks of small random practices against an attacker who writes out every practice that agrees with what they show: no group of
 * one to four patients may be found, neither in a deck, nor in what came between the two. The attacker is no part of the
 * program: it knows sums, and that records only grow. */
#include "ridgetally/base/date.h"
#include "ridgetally/output/deck_rows.h"
#include "ridgetally/output/disclosure.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { LEVELS = 3, TOP = 16, SMALL = 5, PRACTICES = 40, NOT_SHOWN = -1, QUANTITIES = 3 * (LEVELS + 1) };

static const char *const names[LEVELS] = {"never", "former", "current"};
static uint64_t random_state;

static long draw(long most)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (long)((random_state >> 33) % (uint64_t)(most + 1));
}

/* Counts of one deck; the last is the total. With events, of those who had one among 60 a level. */
struct counts {
    long level[LEVELS + 1];
};

static void add_row(struct rt_figure_list *figures, const char *grouping, const char *level, long count,
                    bool events)
{
    struct rt_figure row = rt_empty_figure();
    long all = strcmp(grouping, "window") == 0 ? 60 * LEVELS : 60;
    row.section = "survival";
    row.measure = "early_failure";
    row.unit = "share";
    row.unit_of_analysis = "implant";
    row.grouping = grouping;
    row.level = level;
    row.n_implants = row.n_patients = events ? all : count;
    row.n_events = row.event_patients = events ? count : 0;
    row.other_patients = row.n_implants - row.n_events;
    row.value = row.n_implants == 0 ? 0.0 : (double)row.n_events / (double)row.n_implants;
    assert_int_equal(rt_add_figure(figures, &row, NULL), RT_OK);
}

static void make_figures(const struct counts *counts, bool events, struct rt_figure_list *figures)
{
    add_row(figures, "window", "all", counts->level[LEVELS], events);
    for (size_t i = 0; i < LEVELS; i++) {
        char level[32];
        snprintf(level, sizeof level, "all|%s", names[i]);
        add_row(figures, "window|smoking", level, counts->level[i], events);
    }
}

static enum rt_status keep_cell(void *context, const char *key, long patients, long count, bool shown,
                                struct rt_error *error)
{
    return rt_add_issued_cell(context, 1, key, patients, count, shown, error);
}

/* What the reader of the deck sees: the count, or NOT_SHOWN. */
static void read_deck(const struct rt_deck_rows *deck, bool events, struct counts *seen)
{
    for (size_t i = 0; i <= LEVELS; i++)
        seen->level[i] = NOT_SHOWN;
    for (size_t i = 0; i < deck->shown.count; i++) {
        const struct rt_figure *row = &deck->shown.rows[i];
        size_t place = LEVELS;
        for (size_t k = 0; k < LEVELS; k++)
            if (strncmp(row->level, "all|", 4) == 0 && strcmp(row->level + 4, names[k]) == 0)
                place = k;
        seen->level[place] = events ? row->n_events : row->n_implants;
    }
}

/* Settle a deck; its cells go to `later` when that is given. */
static void issue(struct rt_deck_rows *deck, const struct counts *counts, bool events, int last_day,
                  bool unprotected, struct rt_deck_rows *later, struct counts *seen)
{
    struct rt_figure_list figures = {0};
    make_figures(counts, events, &figures);
    deck->figures = &figures;
    deck->first_day = deck->last_day = last_day;
    deck->conditions = "";
    deck->salt = "salt";
    deck->unprotected = unprotected;
    assert_int_equal(rt_add_deck_slide(deck, "early-smoking", NULL), RT_OK);
    assert_int_equal(rt_settle_deck(deck, NULL), RT_OK);
    read_deck(deck, events, seen);
    if (later != NULL)
        assert_int_equal(rt_write_issued_cells(deck, keep_cell, later, NULL), RT_OK);
    rt_release_figures(&figures);
}

static bool agrees(const struct counts *seen, const long value[LEVELS + 1])
{
    for (size_t i = 0; i <= LEVELS; i++)
        if (seen->level[i] != NOT_SHOWN && seen->level[i] != value[i])
            return false;
    return true;
}

/* The counts of both decks and what came between, one after another. */
static void list_quantities(const long first[LEVELS + 1], const long second[LEVELS + 1], long all[QUANTITIES])
{
    for (size_t i = 0; i <= LEVELS; i++) {
        all[3 * i] = first[i];
        all[3 * i + 1] = second[i];
        all[3 * i + 2] = second[i] - first[i];
    }
}

static void widen(const struct counts seen[2], const long first[LEVELS + 1], const long second[LEVELS + 1],
                  long most[QUANTITIES])
{
    long all[QUANTITIES];
    if (!agrees(&seen[0], first) || !agrees(&seen[1], second))
        return;
    list_quantities(first, second, all);
    for (size_t i = 0; i < QUANTITIES; i++)
        most[i] = all[i] > most[i] ? all[i] : most[i];
}

/* Every practice level by level; a shown count is the only one tried. */
static void enumerate(const struct counts seen[2], size_t level, long first[LEVELS + 1],
                      long second[LEVELS + 1], long most[QUANTITIES])
{
    if (level == LEVELS) {
        first[LEVELS] = first[0] + first[1] + first[2];
        second[LEVELS] = second[0] + second[1] + second[2];
        widen(seen, first, second, most);
        return;
    }
    long from = seen[0].level[level], to = seen[1].level[level];
    for (long one = from == NOT_SHOWN ? 0 : from; one <= (from == NOT_SHOWN ? TOP : from); one++) {
        for (long two = to == NOT_SHOWN ? one : to; two <= (to == NOT_SHOWN ? TOP : to) && two >= one;
             two++) {
            first[level] = one;
            second[level] = two;
            enumerate(seen, level + 1, first, second, most);
        }
    }
}

/* How many small groups the reader is sure are small. */
static int attack(const struct counts truth[2], const struct counts seen[2])
{
    long most[QUANTITIES], first[LEVELS + 1], second[LEVELS + 1], all[QUANTITIES];
    for (size_t i = 0; i < QUANTITIES; i++)
        most[i] = -1;
    enumerate(seen, 0, first, second, most);
    list_quantities(truth[0].level, truth[1].level, all);
    int found = 0;
    for (size_t i = 0; i < QUANTITIES; i++) {
        assert_true(most[i] >= all[i]); /* the truth is among what was written out */
        found += all[i] > 0 && all[i] < SMALL && most[i] < SMALL;
    }
    return found;
}

static int attack_practice(bool events, bool unprotected, int *shown)
{
    struct counts truth[2], seen[2];
    truth[0].level[LEVELS] = truth[1].level[LEVELS] = 0;
    for (size_t i = 0; i < LEVELS; i++) {
        truth[0].level[i] = draw(2) == 0 ? draw(5) : draw(9);
        truth[1].level[i] = truth[0].level[i] + (draw(2) == 0 ? draw(6) : 0);
        truth[0].level[LEVELS] += truth[0].level[i];
        truth[1].level[LEVELS] += truth[1].level[i];
    }
    struct rt_deck_rows first = {0}, second = {0};
    issue(&first, &truth[0], events, 20000, unprotected, &second, &seen[0]);
    issue(&second, &truth[1], events, 20090, unprotected, NULL, &seen[1]);
    for (size_t i = 0; i <= LEVELS; i++)
        *shown += (seen[0].level[i] != NOT_SHOWN) + (seen[1].level[i] != NOT_SHOWN);
    rt_release_deck_rows(&first);
    rt_release_deck_rows(&second);
    return attack(truth, seen);
}

static void attack_many(bool events)
{
    int found_open = 0, found = 0, shown_open = 0, shown = 0;
    random_state = 11;
    for (int i = 0; i < PRACTICES; i++)
        found_open += attack_practice(events, true, &shown_open);
    random_state = 11;
    for (int i = 0; i < PRACTICES; i++)
        found += attack_practice(events, false, &shown);
    print_message("%s: small groups found without protection %d, with it %d; counts shown %d and %d\n",
                  events ? "events" : "groups", found_open, found, shown_open, shown);
    assert_int_equal(found, 0);
    assert_true(found_open > PRACTICES / 2); /* the attack works where nothing protects */
    assert_true(shown > PRACTICES);          /* and not everything is kept back */
}

static void no_small_group_is_found(void **state)
{
    (void)state;
    attack_many(false);
}

static void no_small_count_of_events_is_found(void **state)
{
    (void)state;
    attack_many(true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_small_group_is_found),
                                       cmocka_unit_test(no_small_count_of_events_is_found)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
