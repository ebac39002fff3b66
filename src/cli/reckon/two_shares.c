#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/two_shares.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--count1", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "events of the first group", NULL},
    {"--total1", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its trials", NULL},
    {"--count2", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "events of the second group", NULL},
    {"--total2", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its trials", NULL},
    RT_RECKON_END};

static const char notes[] =
    "For printed tables: trials of one patient are not independent, and p and limits here take them so.\n"
    "difference = first - second, limits by Newcombe (1998, method 10); risk_ratio limits by Katz et al.\n"
    "(1978), odds_ratio limits by Woolf (1955); chi_square by Pearson without correction; exact_p by "
    "Fisher,\n"
    "two-sided over the tables no more probable. All four as numbers need no FILE; else group = row.\n";

enum { COLUMNS = 4 };

static void write_ratio(struct rt_reckon *r, const char *const *names, const char *group,
                        const struct rt_estimate *ratio)
{
    rt_reckon_row(r, names[0], group, NAN, ratio->value, ratio->reason);
    rt_reckon_row(r, names[1], group, NAN, ratio->lower, ratio->reason);
    rt_reckon_row(r, names[2], group, NAN, ratio->upper, ratio->reason);
}

static void reckon_table(struct rt_reckon *r, const char *group, const double *numbers)
{
    static const char *const difference[] = {"difference", "difference_lower", "difference_upper"};
    static const char *const risk_ratio[] = {"risk_ratio", "risk_ratio_lower", "risk_ratio_upper"};
    static const char *const odds_ratio[] = {"odds_ratio", "odds_ratio_lower", "odds_ratio_upper"};
    struct rt_two_shares table = rt_two_shares(numbers[0], numbers[1], numbers[2], numbers[3]);
    write_ratio(r, difference, group, &table.difference);
    write_ratio(r, risk_ratio, group, &table.risk_ratio);
    write_ratio(r, odds_ratio, group, &table.odds_ratio);
    rt_reckon_row(r, "chi_square", group, NAN, table.chi_square.statistic, table.chi_square.reason);
    rt_reckon_row(r, "chi_square_p", group, NAN, table.chi_square.p, table.chi_square.reason);
    rt_reckon_row(r, "exact_p", group, NAN, table.exact.p, table.exact.reason);
}

static bool is_count(double value)
{
    return value >= 0 && value <= 1e9 && value == floor(value);
}

/* The counts of row i; a bad one is named by its cell, or by its option when it was given as a number. */
static enum rt_status check_row(struct rt_reckon *r, size_t i, const double *numbers, struct rt_error *error)
{
    for (size_t k = 0; k < COLUMNS; k++) {
        bool fits = is_count(numbers[k]) && (k % 2 == 1 || numbers[k] <= numbers[k + 1]);
        if (fits)
            continue;
        if (isnan(rt_reckon_number(r, options[k].name)))
            return rt_reckon_fail_cell(
                r, i, rt_reckon_text(r, options[k].name), "is no count of these trials",
                "write whole numbers from 0 to 1000000000, no more events than trials", error);
        rt_fail(error, RT_USE, "%s %.15g is no count of these trials", options[k].name, numbers[k]);
        rt_error_remedy(error, "give whole numbers from 0 to 1000000000, no more events than trials");
        return RT_USE;
    }
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *columns[COLUMNS] = {NULL};
    bool by_row = false;
    enum rt_status status = RT_OK;
    for (size_t k = 0; status == RT_OK && k < COLUMNS; k++) {
        by_row |= isnan(rt_reckon_number(r, options[k].name));
        status = rt_reckon_numbers(r, options[k].name, &columns[k], error);
    }
    for (size_t i = 0; status == RT_OK && i < r->n && (by_row || i == 0); i++) {
        double numbers[COLUMNS] = {columns[0][i], columns[1][i], columns[2][i], columns[3][i]};
        char *name = rt_reckon_array(r, 24, 1, error);
        status = name == NULL ? RT_MEMORY : check_row(r, i, numbers, error);
        if (status != RT_OK)
            break;
        if (by_row)
            snprintf(name, 24, "%zu", r->rows[i] + 1);
        reckon_table(r, name, numbers);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_two_shares = {
    "two-shares",
    "two shares of independent trials, from their counts",
    "difference risk_ratio odds_ratio (+ _lower _upper) chi_square chi_square_p exact_p",
    notes,
    options,
    run};
