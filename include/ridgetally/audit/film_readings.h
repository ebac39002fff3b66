/*
 * Who read which film how often: all readings of both sites, for the error within and between readers.
 */
#ifndef RIDGETALLY_AUDIT_FILM_READINGS_H
#define RIDGETALLY_AUDIT_FILM_READINGS_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>
#include <stddef.h>

/* One reading. patient, implant and film are running numbers from 0, none left out. A film is one implant's on one day
 * under one film name. */
struct rt_film_reading {
    size_t patient, implant, film;
    size_t reader;   /* index into readers */
    bool contact;    /* the level is of first contact */
    double level_mm; /* mean of both sites */
};

struct rt_film_readings {
    struct rt_film_reading
        *of; /* films together, of each the readers in order, of each the readings in order */
    size_t count, capacity;
    size_t patients, implants, films;
    const char **readers; /* in byte order; "" where the reader is not named */
    size_t reader_count, reader_capacity;
    struct rt_arena text;
};

/* Load the readings up to last_day. Release also after a failure. */
enum rt_status rt_load_film_readings(struct rt_store *store, int last_day, struct rt_film_readings *readings,
                                     struct rt_error *error);

void rt_release_film_readings(struct rt_film_readings *readings);

/* The end of the run of readings of one film by one reader that begins at `at`; of one film by any reader. */
size_t rt_end_of_reader(const struct rt_film_readings *readings, size_t at);
size_t rt_end_of_film(const struct rt_film_readings *readings, size_t at);

/* Pairs of readings of the same film, second minus first. */
struct rt_reading_pairs {
    size_t n;
    double *first, *second; /* n: levels, mm */
    size_t *patient;        /* n: running number of the readings */
    size_t *implant;
};

/* Any reader: of rt_take_rereadings. */
#define RT_EVERY_READER ((size_t)-1)

/* Room for a pair per reading. Release also after a failure. */
enum rt_status rt_reading_pairs_start(struct rt_reading_pairs *pairs, const struct rt_film_readings *readings,
                                      struct rt_error *error);
void rt_release_reading_pairs(struct rt_reading_pairs *pairs);

/* The first two readings of each film that one reader read more than once. */
void rt_take_rereadings(const struct rt_film_readings *readings, size_t reader,
                        struct rt_reading_pairs *pairs);

/* The first reading of two readers, of the films that both read in the same kind of level. */
void rt_take_two_readers(const struct rt_film_readings *readings, size_t reader, size_t other,
                         struct rt_reading_pairs *pairs);

/* The two named readers who share most films (of equal numbers the first in order); false when no two do. */
bool rt_main_readers(const struct rt_film_readings *readings, struct rt_reading_pairs *scratch,
                     size_t *reader, size_t *other);

#endif
