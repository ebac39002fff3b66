/*
 * The sample practice: its random numbers against published values, its files against the committed ones, its
 * README against its settings.
 */
#include "../../../sample-data/generator/dirt.h"
#include "../../../sample-data/generator/random.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"
#include "ridgetally/base/resource.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* First outputs of xoshiro256** from state 1, 2, 3, 4, as printed in the test vectors of its public
 * implementations; they follow by hand: rotl(2 * 5, 7) * 9 = 11520, and so on. */
static void bits_follow_the_published_generator(void **state)
{
    (void)state;
    struct rt_sample_random random = {{1, 2, 3, 4}};
    const uint64_t expected[] = {11520u, 0u, 1509978240u, 1215971899390074240u};
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(rt_sample_random_bits(&random), expected[i]);
}

static void own_functions_agree_with_the_library(void **state)
{
    (void)state;
    for (double x = 1e-12; x < 1e12; x *= 1.37)
        assert_true(fabs(rt_sample_log(x) - log(x)) <= 4e-15 * fmax(1, fabs(log(x))));
    for (double x = -40; x < 40; x += 0.173)
        assert_true(fabs(rt_sample_exp(x) / exp(x) - 1) < 1e-14); /* 40 roundings of log 2 */
    assert_true(rt_sample_round(0.25, 0.1) == 0.3);
    assert_true(rt_sample_round(-1.26, 0.1) == -1.3);
    assert_true(rt_sample_round(1.74, 0.5) == 1.5);
    assert_true(rt_sample_round(47.4, 5) == 45);
}

/* 99.9% limits of mean and variance of a standard normal sample: 3.29 / sqrt(n), 3.29 sqrt(2 / n). */
static void normal_draws_have_their_moments(void **state)
{
    (void)state;
    enum { DRAWS = 100000 };
    struct rt_sample_random random;
    rt_sample_random_start(&random, 7, 11);
    double sum = 0, squares = 0;
    int beyond = 0;
    for (int i = 0; i < DRAWS; i++) {
        double x = rt_sample_normal(&random, 0, 1);
        sum += x;
        squares += x * x;
        beyond += fabs(x) > 1.959964 ? 1 : 0;
    }
    assert_true(fabs(sum / DRAWS) < 3.29 / sqrt(DRAWS));
    assert_true(fabs(squares / DRAWS - 1) < 3.29 * sqrt(2.0 / DRAWS));
    assert_true(fabs(beyond / (double)DRAWS - 0.05) < 3.29 * sqrt(0.05 * 0.95 / DRAWS));
}

struct made {
    struct rt_sample_practice practice;
    struct rt_sample_tables tables;
    struct rt_sample_dirt_list dirt;
};

static int make_sample(void **state)
{
    static struct made made;
    struct rt_sample_settings settings = rt_sample_defaults();
    *state = &made;
    return rt_generate_practice(&settings, &made.practice, NULL) == RT_OK &&
                   rt_sample_make_tables(&made.practice, &made.tables, NULL) == RT_OK &&
                   rt_sample_add_dirt(&made.tables, settings.seed, &made.dirt, NULL) == RT_OK
               ? 0
               : -1;
}

static int release_sample(void **state)
{
    struct made *made = *state;
    rt_sample_release_tables(&made->tables);
    rt_release_practice(&made->practice);
    return 0;
}

static void assert_same_as_committed(const struct rt_sample_table *table)
{
    char name[64];
    snprintf(name, sizeof name, "sample-data/%s", table->name);
    const struct rt_resource *committed = rt_find_resource(name);
    assert_non_null(committed);
    struct rt_text text = {0};
    rt_sample_table_to_csv(table, &text);
    assert_int_equal(text.length, committed->end - committed->bytes);
    assert_memory_equal(text.bytes, committed->bytes, text.length);
    rt_text_release(&text);
}

static void files_are_byte_for_byte_the_committed_ones(void **state)
{
    const struct made *made = *state;
    assert_same_as_committed(&made->tables.implants);
    assert_same_as_committed(&made->tables.followups);
    assert_same_as_committed(&made->tables.events);
}

static const char *readme(void)
{
    const struct rt_resource *file = rt_find_resource("sample-data/README.md");
    assert_non_null(file);
    return file->bytes;
}

static void readme_counts_the_dirt(void **state)
{
    const struct made *made = *state;
    assert_true(made->dirt.count > 30 && made->dirt.count < RT_SAMPLE_DIRT_KINDS);
    size_t lines = 0;
    for (size_t i = 0; i < made->dirt.count; i++) {
        char line[256];
        snprintf(line, sizeof line, "| %s | %s | %s | %d |\n", made->dirt.kinds[i].file,
                 made->dirt.kinds[i].column, made->dirt.kinds[i].what, made->dirt.kinds[i].count);
        assert_true(made->dirt.kinds[i].count > 0);
        if (strstr(readme(), line) == NULL)
            fail_msg("not in the README: %s", line);
    }
    for (const char *at = strstr(readme(), "## Dirt"); (at = strstr(at, "\n| ")) != NULL; at++)
        lines++;
    assert_int_equal(lines, made->dirt.count + 2); /* the table's head and rule */
}

static void readme_counts_the_rows(void **state)
{
    const struct made *made = *state;
    const struct rt_sample_table *tables[] = {&made->tables.implants, &made->tables.followups,
                                              &made->tables.events};
    for (size_t i = 0; i < 3; i++) {
        char line[64];
        snprintf(line, sizeof line, "| %s | %zu |", tables[i]->name, tables[i]->row_count);
        assert_non_null(strstr(readme(), line));
    }
}

static double stated_truth(const char *name)
{
    char start[64];
    snprintf(start, sizeof start, "\n| %s | ", name);
    const char *line = strstr(readme(), start);
    if (line == NULL)
        fail_msg("no truth %s in the README", name);
    char cell[32] = "";
    double stated = NAN;
    assert_int_equal(sscanf(line + strlen(start), "%31[^ ]", cell), 1);
    assert_true(rt_parse_number(cell, &stated));
    return stated;
}

static void assert_truth(const char *name, double value)
{
    double stated = stated_truth(name);
    if (fabs(stated - value) > 0.005)
        fail_msg("%s: the README says %g, the settings %g", name, stated, value);
}

static void readme_states_the_truths(void **state)
{
    (void)state;
    const struct rt_sample_truths truths = rt_sample_defaults().truths;
    /* a value rounded to steps of d is off by d^2 / 12; a change is the mean of two sides on two films */
    double rounding = (1 - truths.heaped_share) * 0.1 * 0.1 / 12 + truths.heaped_share * 0.5 * 0.5 / 12;
    double reading = truths.reading_sd_mm * truths.reading_sd_mm + rounding;
    double between = truths.change_patient_sd_mm * truths.change_patient_sd_mm;
    double within = truths.change_implant_sd_mm * truths.change_implant_sd_mm + 2 * reading / 2;
    const struct {
        const char *name;
        double value;
    } stated[] = {
        {"depth_bias_A", truths.depth_bias_mm[0]},
        {"depth_bias_B", truths.depth_bias_mm[1]},
        {"depth_bias_C", truths.depth_bias_mm[2]},
        {"depth_patient_sd", truths.depth_patient_sd_mm},
        {"depth_implant_sd", truths.depth_implant_sd_mm},
        {"torque_per_mm", truths.torque_per_mm_ncm},
        {"torque_gain_sd", truths.torque_gain_sd_ncm},
        {"torque_cap", truths.torque_cap_ncm},
        {"torque_D1", truths.torque_mean_ncm[0]},
        {"torque_D2", truths.torque_mean_ncm[1]},
        {"torque_D3", truths.torque_mean_ncm[2]},
        {"torque_D4", truths.torque_mean_ncm[3]},
        {"centre_depth", truths.centre_depth_mm},
        {"centre_tissue", truths.centre_tissue_mm},
        {"change_12", truths.change_mm},
        {"change_per_depth", truths.change_per_depth},
        {"change_per_tissue", truths.change_per_tissue},
        {"change_per_product", truths.change_per_product},
        {"change_former_smoker", truths.change_former_smoker_mm},
        {"change_current_smoker", truths.change_current_smoker_mm},
        {"change_patient_sd", truths.change_patient_sd_mm},
        {"change_implant_sd", truths.change_implant_sd_mm},
        {"crest_icc", between / (between + within)},
        {"reading_sd_recorded", sqrt(reading)},
        {"yearly_change", truths.yearly_change_mm},
        {"reading_sd", truths.reading_sd_mm},
        {"second_reader_bias", truths.second_reader_bias_mm},
        {"odds_ratio_low_torque", exp(truths.log_odds_low_torque)},
        {"odds_ratio_current_smoker", exp(truths.log_odds_current_smoker)},
        {"frailty_sd", truths.frailty_sd},
        {"lost_per_year", truths.lost_per_year},
        {"failure_never_reported", truths.failure_never_reported},
    };
    for (size_t i = 0; i < sizeof stated / sizeof stated[0]; i++)
        assert_truth(stated[i].name, stated[i].value);
}

/* Averaged over patients an odds ratio is nearer to 1 than within a patient. 99.9% limits by Woolf's error of a log
 * odds ratio, doubled in variance for the likeness of a patient's implants. */
static void averaged_odds_at_low_torque_are_as_stated(void **state)
{
    (void)state;
    struct rt_sample_settings settings = rt_sample_defaults();
    struct rt_sample_practice practice;
    double counts[2][2] = {{0, 0}, {0, 0}}; /* [low][failed early and known] */
    settings.patients = 20000;
    assert_int_equal(rt_generate_practice(&settings, &practice, NULL), RT_OK);
    for (size_t i = 0; i < practice.implant_count; i++) {
        const struct rt_sample_implant *implant = &practice.implants[i];
        bool low = implant->final_torque_ncm < 20 && !implant->torque_capped;
        bool failed = implant->fate == RT_FAILED && implant->ended_on - implant->placed_on <= 180;
        if (implant->placed_on + 180 <= settings.cut_day)
            counts[low ? 1 : 0][failed ? 1 : 0] += 1;
    }
    rt_release_practice(&practice);
    double ratio = counts[1][1] * counts[0][0] / (counts[1][0] * counts[0][1]);
    double error = sqrt(2 * (1 / counts[1][1] + 1 / counts[1][0] + 1 / counts[0][1] + 1 / counts[0][0]));
    assert_true(error < 0.2);
    double stated = stated_truth("odds_ratio_low_torque_average");
    assert_true(fabs(log(ratio) - log(stated)) < 3.29 * error);
}

/* The practice itself, before dirt: nothing is dated before the placement, after the end, or after the cut.
 */
static void clean_records_are_in_order(void **state)
{
    const struct rt_sample_practice *practice = &((struct made *)*state)->practice;
    for (size_t i = 0; i < practice->followup_count; i++) {
        const struct rt_sample_followup *seen = &practice->followups[i];
        const struct rt_sample_implant *implant = &practice->implants[seen->implant];
        assert_true(seen->seen_on >= implant->placed_on);
        assert_true(seen->seen_on <= practice->settings.cut_day);
        assert_true(implant->ended_on == RT_NO_DATE || seen->seen_on < implant->ended_on);
    }
    for (size_t i = 0; i < practice->implant_count; i++) {
        const struct rt_sample_implant *implant = &practice->implants[i];
        assert_true(implant->loaded_on == RT_NO_DATE || implant->loaded_on > implant->placed_on);
        assert_true(implant->uncovered_on == RT_NO_DATE || implant->loaded_on == RT_NO_DATE ||
                    implant->loaded_on > implant->uncovered_on);
        assert_true(implant->bone_height_mm >= implant->length_mm + implant->achieved_depth_mm - 1e-9);
    }
    for (size_t i = 0; i < practice->event_count; i++)
        assert_true(practice->events[i].happened_on <= practice->settings.cut_day);
}

static void a_wanted_number_of_implants_is_met(void **state)
{
    (void)state;
    const int wanted[] = {1, 30, 100, 400};
    for (size_t i = 0; i < 4; i++) {
        struct rt_sample_settings settings = rt_sample_defaults();
        struct rt_sample_practice practice;
        settings.implants = wanted[i];
        assert_int_equal(rt_generate_practice(&settings, &practice, NULL), RT_OK);
        assert_int_equal(practice.implant_count, wanted[i]);
        rt_release_practice(&practice);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bits_follow_the_published_generator),
        cmocka_unit_test(own_functions_agree_with_the_library),
        cmocka_unit_test(normal_draws_have_their_moments),
        cmocka_unit_test(files_are_byte_for_byte_the_committed_ones),
        cmocka_unit_test(readme_counts_the_dirt),
        cmocka_unit_test(readme_counts_the_rows),
        cmocka_unit_test(readme_states_the_truths),
        cmocka_unit_test(averaged_odds_at_low_torque_are_as_stated),
        cmocka_unit_test(clean_records_are_in_order),
        cmocka_unit_test(a_wanted_number_of_implants_is_met),
    };
    return cmocka_run_group_tests(tests, make_sample, release_sample);
}
