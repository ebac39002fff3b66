#include "ridgetally/audit/film_readings.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/store/query.h"

#include <stdlib.h>
#include <string.h>

/* Columns of audit-film-readings.sql. */
enum { PATIENT, IMPLANT, SEEN_ON, FILM, READER, CONTACT, LEVEL };

/* The row before, to number patients, implants and films by. */
struct last {
    int64_t patient, implant;
    int seen_on;
    char *film;
};

static enum rt_status load_readers(struct rt_store *store, struct rt_film_readings *readings,
                                   struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-readers.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char **grown = rt_grow_array(readings->readers, &readings->reader_capacity,
                                           readings->reader_count + 1, sizeof *grown);
        if (grown != NULL)
            readings->readers = grown;
        const char *name = rt_arena_copy(&readings->text, rt_column_text(query, 0));
        if (grown == NULL || name == NULL)
            status = rt_fail_memory(error);
        else
            grown[readings->reader_count++] = name;
    }
    rt_query_close(query);
    return status;
}

static size_t reader_of(const struct rt_film_readings *readings, const char *name)
{
    size_t low = 0, high = readings->reader_count;
    while (low + 1 < high) {
        size_t middle = low + (high - low) / 2;
        if (strcmp(name, readings->readers[middle]) < 0)
            high = middle;
        else
            low = middle;
    }
    return low;
}

/* Number the patient, implant and film of the row, which are new where they differ from the row before. */
static enum rt_status number_row(struct rt_film_readings *readings, struct last *last,
                                 const struct rt_query *query, struct rt_error *error)
{
    bool first = readings->count == 0;
    bool new_patient = first || last->patient != rt_column_integer(query, PATIENT, 0);
    bool new_implant = new_patient || last->implant != rt_column_integer(query, IMPLANT, 0);
    bool new_film = new_implant || last->seen_on != rt_column_date(query, SEEN_ON) ||
                    strcmp(last->film, rt_column_text(query, FILM)) != 0;
    readings->patients += new_patient;
    readings->implants += new_implant;
    readings->films += new_film;
    if (!new_film)
        return RT_OK;
    free(last->film);
    *last = (struct last){rt_column_integer(query, PATIENT, 0), rt_column_integer(query, IMPLANT, 0),
                          rt_column_date(query, SEEN_ON), rt_copy_text(rt_column_text(query, FILM))};
    return last->film != NULL ? RT_OK : rt_fail_memory(error);
}

static enum rt_status keep(struct rt_film_readings *readings, const struct rt_query *query,
                           struct rt_error *error)
{
    struct rt_film_reading *grown =
        rt_grow_array(readings->of, &readings->capacity, readings->count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    readings->of = grown;
    grown[readings->count++] = (struct rt_film_reading){
        .patient = readings->patients - 1,
        .implant = readings->implants - 1,
        .film = readings->films - 1,
        .reader = reader_of(readings, rt_column_text(query, READER)),
        .contact = rt_column_integer(query, CONTACT, 0) != 0,
        .level_mm = rt_column_real(query, LEVEL),
    };
    return RT_OK;
}

enum rt_status rt_load_film_readings(struct rt_store *store, int last_day, struct rt_film_readings *readings,
                                     struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct last last = {.film = NULL};
    bool row = false;
    *readings = (struct rt_film_readings){.of = NULL};
    enum rt_status status = load_readers(store, readings, error);
    if (status == RT_OK)
        status = rt_query_open(store, "sql/queries/audit-film-readings.sql", &query, error);
    rt_bind_integer(query, ":last_day", last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        status = number_row(readings, &last, query, error);
        if (status == RT_OK)
            status = keep(readings, query, error);
    }
    rt_query_close(query);
    free(last.film);
    return status;
}

void rt_release_film_readings(struct rt_film_readings *readings)
{
    free(readings->of);
    free((void *)readings->readers);
    rt_arena_release(&readings->text);
    *readings = (struct rt_film_readings){.of = NULL};
}

size_t rt_end_of_film(const struct rt_film_readings *readings, size_t at)
{
    size_t end = at + 1;
    while (end < readings->count && readings->of[end].film == readings->of[at].film)
        end++;
    return end;
}

size_t rt_end_of_reader(const struct rt_film_readings *readings, size_t at)
{
    size_t end = at + 1;
    while (end < readings->count && readings->of[end].film == readings->of[at].film &&
           readings->of[end].reader == readings->of[at].reader)
        end++;
    return end;
}

/* --- pairs ------------------------------------------------------------------------------------------------ */

enum rt_status rt_reading_pairs_start(struct rt_reading_pairs *pairs, const struct rt_film_readings *readings,
                                      struct rt_error *error)
{
    *pairs = (struct rt_reading_pairs){.first = rt_new_array(readings->count + 1, sizeof(double)),
                                       .second = rt_new_array(readings->count + 1, sizeof(double)),
                                       .patient = rt_new_array(readings->count + 1, sizeof(size_t)),
                                       .implant = rt_new_array(readings->count + 1, sizeof(size_t))};
    bool all =
        pairs->first != NULL && pairs->second != NULL && pairs->patient != NULL && pairs->implant != NULL;
    return all ? RT_OK : rt_fail_memory(error);
}

void rt_release_reading_pairs(struct rt_reading_pairs *pairs)
{
    free(pairs->first);
    free(pairs->second);
    free(pairs->patient);
    free(pairs->implant);
    *pairs = (struct rt_reading_pairs){.n = 0};
}

static void add_pair(struct rt_reading_pairs *pairs, const struct rt_film_reading *first,
                     const struct rt_film_reading *second)
{
    pairs->first[pairs->n] = first->level_mm;
    pairs->second[pairs->n] = second->level_mm;
    pairs->patient[pairs->n] = first->patient;
    pairs->implant[pairs->n++] = first->implant;
}

void rt_take_rereadings(const struct rt_film_readings *readings, size_t reader,
                        struct rt_reading_pairs *pairs)
{
    pairs->n = 0;
    for (size_t at = 0, end; at < readings->count; at = end) {
        end = rt_end_of_reader(readings, at);
        if (end - at > 1 && (reader == RT_EVERY_READER || readings->of[at].reader == reader))
            add_pair(pairs, &readings->of[at], &readings->of[at + 1]);
    }
}

void rt_take_two_readers(const struct rt_film_readings *readings, size_t reader, size_t other,
                         struct rt_reading_pairs *pairs)
{
    pairs->n = 0;
    for (size_t at = 0, end; at < readings->count; at = end) {
        const struct rt_film_reading *first = NULL, *second = NULL;
        end = rt_end_of_film(readings, at);
        for (size_t i = end; i-- > at;) { /* backwards: the first reading of each is met last */
            first = readings->of[i].reader == reader ? &readings->of[i] : first;
            second = readings->of[i].reader == other ? &readings->of[i] : second;
        }
        if (first != NULL && second != NULL && first->contact == second->contact)
            add_pair(pairs, first, second);
    }
}

bool rt_main_readers(const struct rt_film_readings *readings, struct rt_reading_pairs *scratch,
                     size_t *reader, size_t *other)
{
    size_t most = 0;
    for (size_t a = 0; a < readings->reader_count; a++) {
        for (size_t b = a + 1; b < readings->reader_count && readings->readers[a][0] != '\0'; b++) {
            rt_take_two_readers(readings, a, b, scratch);
            if (scratch->n <= most)
                continue;
            most = scratch->n;
            *reader = a;
            *other = b;
        }
    }
    return most > 0;
}
