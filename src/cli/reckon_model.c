#include "ridgetally/cli/reckon_model.h"

#include <stdio.h>

void rt_reckon_term_rows(struct rt_reckon *r, const char *term, const struct rt_estimate *estimate,
                         unsigned write)
{
    rt_reckon_row(r, "coefficient", term, NAN, estimate->value, estimate->reason);
    rt_reckon_row(r, "standard_error", term, NAN, estimate->standard_error, estimate->reason);
    if (write & RT_WRITE_DF)
        rt_reckon_row(r, "df", term, NAN, estimate->df, estimate->reason);
    if (write & RT_WRITE_STATISTIC)
        rt_reckon_row(r, "statistic", term, NAN, estimate->statistic, estimate->reason);
    rt_reckon_row(r, "p", term, NAN, estimate->p, estimate->reason);
    rt_reckon_row(r, "lower", term, NAN, estimate->lower, estimate->reason);
    rt_reckon_row(r, "upper", term, NAN, estimate->upper, estimate->reason);
}

void rt_reckon_difference_rows(struct rt_reckon *r, const struct rt_estimate *difference)
{
    const char *reason = difference->reason;
    rt_reckon_row(r, "difference", NULL, NAN, difference->value, reason);
    rt_reckon_row(r, "difference_standard_error", NULL, NAN, difference->standard_error, reason);
    rt_reckon_row(r, "difference_df", NULL, NAN, difference->df, reason);
    rt_reckon_row(r, "difference_lower", NULL, NAN, difference->lower, reason);
    rt_reckon_row(r, "difference_upper", NULL, NAN, difference->upper, reason);
    rt_reckon_row(r, "difference_p", NULL, NAN, difference->p, reason);
}

const bool *rt_reckon_rows_of(struct rt_reckon *r, const struct rt_reckon_group *group,
                              struct rt_error *error)
{
    bool *inside = rt_reckon_array(r, r->n, sizeof *inside, error);
    for (size_t i = 0; inside != NULL && i < group->count; i++)
        inside[group->rows[i]] = true;
    return inside;
}

enum rt_status rt_reckon_number_pairs(struct rt_reckon *r, const char *first, const char *second,
                                      enum rt_status (*write)(struct rt_reckon *r, const char *group,
                                                              double first, double second,
                                                              struct rt_error *error),
                                      struct rt_error *error)
{
    double a = rt_reckon_number(r, first);
    double b = rt_reckon_number(r, second);
    if (!isnan(a) && !isnan(b))
        return write(r, NULL, a, b, error);
    double *column_a = NULL;
    double *column_b = NULL;
    enum rt_status status = rt_reckon_numbers(r, first, &column_a, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, second, &column_b, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        snprintf(name, 24, "%zu", r->rows[i] + 1);
        status = write(r, name, column_a[i], column_b[i], error);
    }
    if (status != RT_OK)
        rt_error_locate(error, r->file, 0, NULL);
    return status;
}
