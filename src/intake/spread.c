/* How far apart the levels of each implant lie, and whether two of its readings are alike (temp.spread), for the checks that compare
 * visits: one pass over the readings. */
#include "check_run.h"

#include <math.h>

/* The ends of what was met; NaN while nothing was. */
struct range {
    double least, most;
};

/* What was read of one film. */
struct film {
    double imaged_length, mesial, distal;
};

/* An implant with more films that were measured is taken to have two alike: the check itself looks again. */
enum { MOST_FILMS = 24 };

struct levels {
    struct range mesial, distal, lead; /* lead: of mesial over distal */
    struct film films[MOST_FILMS];
    size_t film_count;
    bool repeats;
};

static void forget(struct levels *levels)
{
    levels->mesial = levels->distal = levels->lead = (struct range){NAN, NAN};
    levels->film_count = 0;
    levels->repeats = false;
}

static void take(struct range *range, double value)
{
    if (isnan(value))
        return;
    range->least = range->least <= value ? range->least : value;
    range->most = range->most >= value ? range->most : value;
}

/* A film without one of the numbers (NaN) is like no other. */
static void take_film(struct levels *levels, const struct film *film)
{
    if (isnan(film->imaged_length + film->mesial + film->distal) || levels->repeats)
        return;
    levels->repeats = levels->film_count == MOST_FILMS;
    for (size_t i = 0; i < levels->film_count && !levels->repeats; i++) {
        const struct film *other = &levels->films[i];
        levels->repeats = film->imaged_length == other->imaged_length && film->mesial == other->mesial &&
                          film->distal == other->distal;
    }
    if (!levels->repeats)
        levels->films[levels->film_count++] = *film;
}

static double width(const struct range *range)
{
    return range->most - range->least;
}

/* Most implants change too little for any of the checks. */
static enum rt_status keep(struct rt_query *insert, int64_t implant, const struct levels *levels,
                           struct rt_error *error)
{
    bool wide = width(&levels->mesial) > 1.99 || width(&levels->distal) > 1.99;
    bool crossing = levels->lead.most > 0.49 && levels->lead.least < -0.49;
    if (!wide && !crossing && !levels->repeats)
        return RT_OK;
    rt_bind_integer(insert, ":implant_id", implant);
    rt_bind_real(insert, ":mesial", width(&levels->mesial));
    rt_bind_real(insert, ":distal", width(&levels->distal));
    rt_bind_real(insert, ":mesial_lead", levels->lead.most);
    rt_bind_real(insert, ":distal_lead", 0.0 - levels->lead.least);
    rt_bind_integer(insert, ":repeats", levels->repeats);
    return rt_query_run(insert, error);
}

enum rt_status note_spread(struct rt_store *store, struct rt_error *error)
{
    struct rt_query *readings = NULL, *insert = NULL;
    struct levels levels;
    int64_t implant = 0;
    bool row = true;
    forget(&levels);
    enum rt_status status = rt_query_open(store, "sql/intake/levels.sql", &readings, error);
    if (status == RT_OK)
        status = rt_query_open_text(
            store,
            "INSERT INTO temp.spread (implant_id, mesial, distal, mesial_lead, distal_lead, repeats) "
            "VALUES (:implant_id, :mesial, :distal, :mesial_lead, :distal_lead, :repeats)",
            &insert, error);
    while (status == RT_OK && row) {
        status = rt_query_next(readings, &row, error);
        const int64_t next = status == RT_OK && row ? rt_column_integer(readings, 0, 0) : 0;
        if (status == RT_OK && next != implant) {
            status = keep(insert, implant, &levels, error);
            forget(&levels);
            implant = next;
        }
        if (status == RT_OK && row) {
            const double mesial = rt_column_real(readings, 1), distal = rt_column_real(readings, 2);
            take(&levels.mesial, mesial);
            take(&levels.distal, distal);
            take(&levels.lead, mesial - distal);
            if (!rt_column_is_null(readings, 3))
                take_film(&levels, &(struct film){rt_column_real(readings, 3), rt_column_real(readings, 4),
                                                  rt_column_real(readings, 5)});
        }
    }
    rt_query_close(readings);
    rt_query_close(insert);
    return status;
}
