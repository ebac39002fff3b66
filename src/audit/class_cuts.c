#include "ridgetally/audit/class_cuts.h"

#include "ridgetally/base/number.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum column { QUANTITY, LABEL, LOWER, LOWER_INCLUDED, UPPER, UPPER_INCLUDED, VALID_FROM };

static struct rt_classes *classes_named(struct rt_class_cuts *cuts, const char *quantity)
{
    if (strcmp(quantity, "depth") == 0)
        return &cuts->depth;
    if (strcmp(quantity, "tissue") == 0)
        return &cuts->tissue;
    return strcmp(quantity, "torque") == 0 ? &cuts->torque : NULL;
}

static long cut_or(double cut, long open_end)
{
    return isnan(cut) ? open_end : rt_hundredths(cut);
}

static enum rt_status take_class(struct rt_query *query, struct rt_class_cuts *cuts, struct rt_error *error)
{
    const char *quantity = rt_column_text(query, QUANTITY);
    struct rt_classes *classes = classes_named(cuts, quantity);
    if (classes == NULL)
        return RT_OK; /* a quantity of a later program */
    if (classes->count == RT_CLASSES_LIMIT)
        return rt_fail(error, RT_STORE, "more than %d classes of %s in table class_cut", RT_CLASSES_LIMIT,
                       quantity);
    struct rt_class *one = &classes->of[classes->count++];
    snprintf(one->label, sizeof one->label, "%s", rt_column_text(query, LABEL));
    one->lower = cut_or(rt_column_real(query, LOWER), LONG_MIN);
    one->upper = cut_or(rt_column_real(query, UPPER), LONG_MAX);
    one->lower_included = rt_column_integer(query, LOWER_INCLUDED, 0) != 0;
    one->upper_included = rt_column_integer(query, UPPER_INCLUDED, 0) != 0;
    classes->valid_from = (int)rt_column_integer(query, VALID_FROM, 0);
    return RT_OK;
}

enum rt_status rt_load_class_cuts(struct rt_store *store, int last_day, struct rt_class_cuts *cuts,
                                  struct rt_error *error)
{
    *cuts = (struct rt_class_cuts){.depth = {.count = 0}};
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-class-cuts.sql", &query, error);
    rt_bind_integer(query, ":last_day", last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        status = take_class(query, cuts, error);
    rt_query_close(query);
    if (status == RT_OK && (cuts->depth.count == 0 || cuts->tissue.count == 0 || cuts->torque.count == 0))
        status = rt_fail(error, RT_STORE, "table class_cut lacks the classes of depth, tissue or torque");
    return status;
}

int rt_class_of(const struct rt_classes *classes, double value)
{
    if (isnan(value))
        return RT_NO_CLASS;
    long hundredths = rt_hundredths(value);
    for (int i = 0; i < classes->count; i++) {
        const struct rt_class *one = &classes->of[i];
        bool above = hundredths > one->lower || (one->lower_included && hundredths == one->lower);
        bool below = hundredths < one->upper || (one->upper_included && hundredths == one->upper);
        if (above && below)
            return i;
    }
    return RT_NO_CLASS;
}

int rt_class_of_capped(const struct rt_classes *classes, double value, bool capped)
{
    int found = rt_class_of(classes, value);
    return !capped || found == classes->count - 1 ? found : RT_NO_CLASS;
}

double rt_lowest_cut(const struct rt_classes *classes)
{
    if (classes->count == 0 || classes->of[0].upper == LONG_MAX)
        return NAN;
    return (double)classes->of[0].upper / 100.0;
}
