#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/adjust.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--p", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of p-values", NULL},
    {"--label", RT_OPTION_TEXT_COLUMN, false, NULL,
     "names of the rows; their numbers in the file when not given", NULL},
    RT_RECKON_END};

static const char notes[] = "Holm (1979) for the chance of any false finding, Benjamini & Hochberg (1995) "
                            "for the expected share of false ones.\n"
                            "Empty p-values are left out and not counted. group = number of the row in the "
                            "file, from 1, or its label.\n";

static enum rt_status name_rows(struct rt_reckon *r, const char **names, struct rt_error *error)
{
    const char **labels = NULL;
    enum rt_status status = rt_reckon_cells(r, "--label", &labels, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        if (labels != NULL) {
            names[i] = rt_reckon_escape(r, labels[i]);
            continue;
        }
        char *number = rt_reckon_array(r, 24, 1, error);
        if (number == NULL)
            return RT_MEMORY;
        snprintf(number, 24, "%zu", r->rows[i] + 1);
        names[i] = number;
    }
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *p = NULL;
    enum rt_status status = rt_reckon_numbers(r, "--p", &p, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++)
        if (p[i] < 0 || p[i] > 1)
            status = rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--p"), "is not a p-value",
                                         "write a number from 0 to 1, or leave the cell empty", error);
    const char **names = status == RT_OK ? rt_reckon_array(r, r->n, sizeof *names, error) : NULL;
    double *holm = names != NULL ? rt_reckon_array(r, r->n, sizeof *holm, error) : NULL;
    double *bh = holm != NULL ? rt_reckon_array(r, r->n, sizeof *bh, error) : NULL;
    if (bh == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    status = name_rows(r, names, error);
    if (status == RT_OK)
        status = rt_adjust_holm(p, r->n, holm, error);
    if (status == RT_OK)
        status = rt_adjust_benjamini_hochberg(p, r->n, bh, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        rt_reckon_row(r, "holm", names[i], NAN, holm[i], NULL);
        rt_reckon_row(r, "bh", names[i], NAN, bh[i], NULL);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_adjust = {
    "adjust", "p-values adjusted for their number", "holm bh (group = row)", notes, options, run};
