/* Withholding cells: against an attacker who writes out every table that agrees with what is shown. */
#include "ridgetally/output/disclosure.h"

#include "ridgetally/base/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { INNER = 4, ALL = 9, THRESHOLD = 5, TOP = 26 };

static const char *const names[ALL] = {
    "operator=A&smoking=never",
    "operator=A&smoking=now",
    "operator=B&smoking=never",
    "operator=B&smoking=now",
    "operator=A",
    "operator=B",
    "smoking=never",
    "smoking=now",
    "",
};

static uint64_t random_state;

static long draw(long most)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (long)((random_state >> 33) % (uint64_t)(most + 1));
}

static void sums(const long inner[INNER], long all[ALL])
{
    memcpy(all, inner, INNER * sizeof *inner);
    all[4] = inner[0] + inner[1];
    all[5] = inner[2] + inner[3];
    all[6] = inner[0] + inner[2];
    all[7] = inner[1] + inner[3];
    all[8] = all[4] + all[5];
}

/* Patients with one implant each. */
static void fill(struct rt_cell cells[ALL], const long counts[ALL], const char *outcome)
{
    for (size_t i = 0; i < ALL; i++)
        cells[i] = (struct rt_cell){.family = "depth",
                                    .from = RT_NO_DATE,
                                    .to = 20000,
                                    .conditions = names[i],
                                    .outcome = outcome,
                                    .patients = counts[i],
                                    .implants = counts[i],
                                    .shown = true,
                                    .why = ""};
}

/* How many small cells, not shown, a reader finds to be small in every table that agrees with the shown cells. */
static int attack(const struct rt_cell cells[ALL])
{
    long most[ALL], inner[INNER], all[ALL];
    for (size_t i = 0; i < ALL; i++)
        most[i] = -1;
    for (inner[0] = 0; inner[0] < TOP; inner[0]++)
        for (inner[1] = 0; inner[1] < TOP; inner[1]++)
            for (inner[2] = 0; inner[2] < TOP; inner[2]++)
                for (inner[3] = 0; inner[3] < TOP; inner[3]++) {
                    bool agrees = true;
                    sums(inner, all);
                    for (size_t i = 0; agrees && i < ALL; i++)
                        agrees = !cells[i].shown || all[i] == cells[i].implants;
                    for (size_t i = 0; agrees && i < ALL; i++)
                        most[i] = all[i] > most[i] ? all[i] : most[i];
                }
    int found = 0;
    for (size_t i = 0; i < ALL; i++)
        found += cells[i].implants > 0 && cells[i].implants < THRESHOLD && most[i] < THRESHOLD;
    return found;
}

static void an_attacker_finds_no_small_cell(void **state)
{
    (void)state;
    random_state = 5;
    int found_unprotected = 0, tables_with_small = 0, shown = 0;
    for (int round = 0; round < 25; round++) {
        long inner[INNER], all[ALL];
        for (size_t i = 0; i < INNER; i++)
            inner[i] = draw(2) == 0 ? draw(6) : draw(20);
        sums(inner, all);
        struct rt_cell cells[ALL];
        fill(cells, all, "");
        for (size_t i = 0; i < ALL; i++)
            cells[i].shown = all[i] == 0 || all[i] >= THRESHOLD; /* nothing but the small ones withheld */
        found_unprotected += attack(cells);
        fill(cells, all, "");
        size_t open = 0;
        assert_int_equal(rt_protect_cells(cells, ALL, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
        assert_int_equal(open, ALL);
        assert_int_equal(attack(cells), 0);
        bool small = false;
        for (size_t i = 0; i < ALL; i++) {
            small = small || (all[i] > 0 && all[i] < THRESHOLD);
            shown += cells[i].shown;
            assert_true(cells[i].shown == (cells[i].why[0] == '\0'));
        }
        tables_with_small += small;
        for (size_t i = 0; !small && i < ALL; i++)
            assert_true(cells[i].shown);
    }
    assert_true(found_unprotected > 10); /* the attack works where nothing protects */
    assert_true(tables_with_small > 5);
    assert_true(shown > 25 * 3); /* not everything is withheld */
}

/* 40 patients, 3 with the event: withheld; the same with 37 of 40. 20 of 40 stays. */
static void a_small_complement_is_withheld(void **state)
{
    (void)state;
    const long events[] = {3, 37, 20, 0, 40};
    const bool shown[] = {false, false, true, true, true};
    for (size_t i = 0; i < 5; i++) {
        struct rt_cell cell = {.family = "early",
                               .from = 0,
                               .to = 365,
                               .conditions = "",
                               .outcome = "lost",
                               .patients = events[i],
                               .implants = events[i],
                               .other_patients = 40 - events[i],
                               .other_implants = 40 - events[i],
                               .shown = true,
                               .why = ""};
        size_t open;
        assert_int_equal(rt_protect_cells(&cell, 1, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
        assert_int_equal(open, 1);
        assert_int_equal(cell.shown, shown[i]);
    }
}

static struct rt_cell group(int from, int to, long patients, bool earlier)
{
    return (struct rt_cell){.family = "depth",
                            .from = from,
                            .to = to,
                            .conditions = "",
                            .outcome = "",
                            .patients = patients,
                            .implants = patients,
                            .earlier = earlier,
                            .shown = true,
                            .why = ""};
}

/* All records to a day were shown with 50 patients; three more came in the next quarter. */
static void a_new_deck_is_not_subtracted_from_an_earlier_one(void **state)
{
    (void)state;
    struct rt_cell cells[] = {group(RT_NO_DATE, 100, 50, true), group(RT_NO_DATE, 190, 53, false)};
    size_t open;
    assert_int_equal(rt_protect_cells(cells, 2, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, 2);
    assert_true(cells[0].shown);
    assert_false(cells[1].shown);
    struct rt_cell more[] = {group(RT_NO_DATE, 100, 50, true), group(RT_NO_DATE, 190, 55, false)};
    assert_int_equal(rt_protect_cells(more, 2, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_true(more[1].shown);
}

/* Records were corrected after a deck: the same group, or a wider one, with two patients fewer or more. Who went, or came, is a
 * group of two; of eight is none. */
static void what_was_corrected_is_a_group(void **state)
{
    (void)state;
    static const struct {
        int to;
        long patients;
        bool shown;
    } cases[] = {{190, 48, false}, {190, 42, true}, {100, 48, false}, {100, 52, false},
                 {100, 42, true},  {100, 50, true}, {190, 50, true},  {100, 55, true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_cell cells[] = {group(RT_NO_DATE, 100, 50, true),
                                  group(RT_NO_DATE, cases[i].to, cases[i].patients, false)};
        size_t open;
        cells[0].deck = 1;
        assert_int_equal(rt_protect_cells(cells, 2, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
        assert_int_equal(open, 2);
        assert_int_equal(cells[1].shown, cases[i].shown);
    }
}

static struct rt_cell level(const char *conditions, long patients, bool earlier)
{
    struct rt_cell cell = group(0, 90, patients, earlier);
    cell.conditions = conditions;
    cell.deck = earlier;
    return cell;
}

/* An earlier deck showed levels that, after a correction, are more than the whole of today; the levels of today still add up to it,
 * and the small one among them must not be left open to subtraction. */
static void levels_of_a_corrected_deck_do_not_uncover_those_of_the_new_one(void **state)
{
    (void)state;
    struct rt_cell cells[] = {
        level("operator=A", 40, true),  level("operator=B", 32, true),  level("", 80, true),
        level("operator=A", 20, false), level("operator=B", 22, false), level("operator=C", 3, false),
        level("", 45, false),
    };
    enum { COUNT = sizeof cells / sizeof cells[0] };
    size_t open;
    assert_int_equal(rt_protect_cells(cells, COUNT, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, COUNT);
    assert_false(cells[5].shown);
    assert_true(cells[3].shown + cells[4].shown + cells[6].shown < 3);
    assert_true(cells[3].shown + cells[4].shown + cells[6].shown > 0);
}

/* Four quarters and their year, each quarter in a deck of its own: the one with three patients is kept back, and must not be what the
 * other three leave of the year. The year less a half is the other half. */
static void a_quarter_is_not_found_as_a_year_less_three(void **state)
{
    (void)state;
    const long counts[] = {20, 3, 15, 30};
    struct rt_cell cells[5];
    size_t open;
    for (int i = 0; i < 4; i++) {
        cells[i] = group(100 * i, 100 * i + 99, counts[i], true);
        cells[i].deck = i + 1;
        cells[i].shown = counts[i] >= THRESHOLD;
    }
    cells[4] = group(0, 399, 68, false);
    assert_int_equal(rt_protect_cells(cells, 5, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, 5);
    assert_false(cells[4].shown);
    cells[3].shown = false;
    cells[4].shown = true;
    assert_int_equal(rt_protect_cells(cells, 5, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_true(cells[4].shown);
    /* two halves shown, the year not: nothing is left to find out */
    struct rt_cell halves[] = {group(0, 199, 50, true), group(100, 299, 50, true), group(0, 299, 53, false)};
    halves[0].deck = 1;
    halves[1].deck = 2;
    assert_int_equal(rt_protect_cells(halves, 3, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_false(halves[2].shown); /* three before day 100, three after day 199 */
}

/* All, and those of one operator who never smoked: the others are three, whichever operator's and whatever they smoke. */
static void what_two_conditions_leave_is_a_group(void **state)
{
    (void)state;
    struct rt_cell cells[] = {level("", 40, true), level("operator=A&smoking=never", 37, false)};
    size_t open;
    assert_int_equal(rt_protect_cells(cells, 2, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, 2);
    assert_false(cells[1].shown);
    struct rt_cell more[] = {level("", 42, true), level("operator=A&smoking=never", 37, false)};
    assert_int_equal(rt_protect_cells(more, 2, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_true(more[1].shown);
}

/* At risk at two times: 3 fewer at the second; the nesting says that those at risk later were at risk before. */
static void successive_numbers_at_risk_are_not_subtracted(void **state)
{
    (void)state;
    struct rt_cell cells[] = {group(0, 9, 60, false), group(0, 9, 57, false), group(0, 9, 40, false)};
    cells[0].family = "at risk 0";
    cells[1].family = "at risk 1";
    cells[2].family = "at risk 2";
    const struct rt_nesting nestings[] = {{.inner = 1, .outer = 0}, {.inner = 2, .outer = 1}};
    size_t open;
    assert_int_equal(rt_protect_cells(cells, 3, nestings, 2, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, 3);
    assert_true(cells[0].shown + cells[1].shown < 2);
    assert_true(cells[2].shown);
}

/* Two earlier decks, each harmless when it was made for a lower threshold, give 3 patients away: told, not hidden. */
static void earlier_decks_that_give_a_cell_away_are_told(void **state)
{
    (void)state;
    struct rt_cell cells[] = {group(RT_NO_DATE, 100, 50, true), group(RT_NO_DATE, 190, 53, true),
                              group(RT_NO_DATE, 290, 90, false)};
    size_t open;
    assert_int_equal(rt_protect_cells(cells, 3, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_true(open < 3);
}

/* 6 implants in 2 patients are small although the implants are not. */
static void patients_count_not_implants(void **state)
{
    (void)state;
    struct rt_cell cell = group(0, 9, 2, false);
    cell.implants = 6;
    size_t open;
    assert_int_equal(rt_protect_cells(&cell, 1, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_false(cell.shown);
    assert_int_equal(rt_protect_cells(NULL, 0, NULL, 0, THRESHOLD, &open, NULL), RT_OK);
    assert_int_equal(open, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_attacker_finds_no_small_cell),
        cmocka_unit_test(a_small_complement_is_withheld),
        cmocka_unit_test(a_new_deck_is_not_subtracted_from_an_earlier_one),
        cmocka_unit_test(what_was_corrected_is_a_group),
        cmocka_unit_test(levels_of_a_corrected_deck_do_not_uncover_those_of_the_new_one),
        cmocka_unit_test(a_quarter_is_not_found_as_a_year_less_three),
        cmocka_unit_test(what_two_conditions_leave_is_a_group),
        cmocka_unit_test(successive_numbers_at_risk_are_not_subtracted),
        cmocka_unit_test(earlier_decks_that_give_a_cell_away_are_told),
        cmocka_unit_test(patients_count_not_implants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
