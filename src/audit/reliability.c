#include "ridgetally/audit/reliability.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/sum.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <string.h>

/* Columns of audit-repeats.sql. */
enum { IMPLANT, PATIENT, SEEN_ON, FILM, READER, READING, LEVEL };

/* The film being gone through, by Welford's updates. */
struct film {
    int64_t implant;
    int seen_on;
    char *name, *reader;
    size_t readings;
    double mean, squares;
};

static bool same_film(const struct film *film, const struct rt_query *query)
{
    return film->readings > 0 && film->implant == rt_column_integer(query, IMPLANT, 0) &&
           film->seen_on == rt_column_date(query, SEEN_ON) &&
           strcmp(film->name, rt_column_text(query, FILM)) == 0 &&
           strcmp(film->reader, rt_column_text(query, READER)) == 0;
}

static void forget(struct film *film)
{
    free(film->name);
    free(film->reader);
    *film = (struct film){.implant = 0};
}

static enum rt_status begin(struct film *film, const struct rt_query *query, struct rt_error *error)
{
    forget(film);
    film->implant = rt_column_integer(query, IMPLANT, 0);
    film->seen_on = rt_column_date(query, SEEN_ON);
    film->name = rt_copy_text(rt_column_text(query, FILM));
    film->reader = rt_copy_text(rt_column_text(query, READER));
    return film->name != NULL && film->reader != NULL ? RT_OK : rt_fail_memory(error);
}

static void add_reading(struct film *film, double level)
{
    double deviation = level - film->mean;
    film->readings++;
    film->mean += deviation / (double)film->readings;
    film->squares += deviation * (level - film->mean);
}

enum rt_status rt_reading_error(struct rt_store *store, int last_day, enum rt_films films,
                                struct rt_reading_error *result, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct film film = {.implant = 0};
    struct rt_sum squares = {0.0, 0.0};
    size_t freedom = 0;
    int64_t last_implant = -1;
    bool row = false;
    *result = (struct rt_reading_error){.variance = NAN};
    enum rt_status status = rt_query_open(store, "sql/queries/audit-repeats.sql", &query, error);
    rt_bind_integer(query, ":last_day", last_day);
    rt_bind_integer(query, ":all_films", films == RT_ALL_FILMS);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        if (!same_film(&film, query)) {
            rt_sum_add(&squares, film.squares);
            status = begin(&film, query, error);
            result->films++;
            result->implants += film.implant != last_implant;
            last_implant = film.implant;
        } else {
            freedom++;
        }
        add_reading(&film, rt_column_real(query, LEVEL));
    }
    rt_sum_add(&squares, film.squares);
    if (status == RT_OK && freedom > 0)
        result->variance = rt_sum_value(&squares) / (double)freedom;
    forget(&film);
    rt_query_close(query);
    return status;
}

enum rt_status rt_reading_errors(struct rt_store *store, int last_day, struct rt_reading_errors *result,
                                 struct rt_error *error)
{
    result->baseline_films = (struct rt_reading_error){.variance = NAN};
    enum rt_status status = rt_reading_error(store, last_day, RT_ALL_FILMS, &result->all_films, error);
    if (status == RT_OK)
        status = rt_reading_error(store, last_day, RT_BASELINE_FILMS, &result->baseline_films, error);
    return status;
}

double rt_detectable_change_mm(const struct rt_reading_error *all_films)
{
    return 1.96 * sqrt(2.0) * sqrt(all_films->variance);
}
