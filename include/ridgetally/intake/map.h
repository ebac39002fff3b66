/*
 * Column maps: how a sheet of the practice's own becomes native records. A map is plain text, one statement a line
 * (man page, section MAPS); it is read here, applied row by row, and stored with the batch without its comments.
 */
#ifndef RIDGETALLY_INTAKE_MAP_H
#define RIDGETALLY_INTAKE_MAP_H

#include "ridgetally/base/arena.h"
#include "ridgetally/intake/dialect.h"
#include "ridgetally/intake/form.h"

enum rt_date_order {
    RT_DATES_PROVEN, /* only dates that can mean one day */
    RT_DATES_DAY_FIRST,
    RT_DATES_MONTH_FIRST,
    RT_DATES_SERIAL_1900, /* day numbers of a spreadsheet; 60 is the 29 February 1900 that never was */
    RT_DATES_SERIAL_1904
};

enum rt_teeth { RT_TEETH_ISO, RT_TEETH_1_32 };

enum { RT_MOST_CODES = 24, RT_MOST_MAP_LINES = 512, RT_MOST_SETS = 32 };

/* One `column` or `constant` statement. */
struct rt_map_line {
    const char *header;   /* their column; NULL for a constant */
    const char *constant; /* its value; NULL for a column */
    const char *set;      /* columns of one set make one record; "" = all sets of the kind */
    const struct rt_field *field;
    enum rt_record_kind kind;
    bool every_kind; /* patient and implant */
    bool skip;       /* known, and not loaded */
    bool free_text;  /* of a field of free text: take what is no short code too */
    double factor;   /* unit, sign and factor together */
    enum rt_date_order dates;
    enum rt_teeth teeth;
    const char *from[RT_MOST_CODES], *to[RT_MOST_CODES];
    size_t codes;
};

struct rt_map {
    struct rt_dialect dialect; /* stated members */
    struct rt_map_line *lines;
    size_t count, capacity;
    struct rt_arena arena;
};

/* Read the text of a map (zero-initialise *map; release it also after a failure). RT_INPUT, with name, line and remedy, for
 * what is no statement, a field that does not exist or is fed twice, and everything left at `ask`. */
enum rt_status rt_parse_map(const char *name, const char *text, size_t length, struct rt_map *map,
                            struct rt_error *error);
void rt_release_map(struct rt_map *map);

/* Whether a sheet read through the map gives records of the kind. */
bool rt_map_feeds(const struct rt_map *map, enum rt_record_kind kind);

/* The text without comments and blank lines, as it is kept in the store. */
void rt_strip_map(const char *text, struct rt_text *out);

/* A judge that knows the map's columns, for finding its header. */
struct rt_header_judge rt_map_judge(const struct rt_map *map);

/* A date in any order of day, month and year; RT_NO_DATE with a static reason and remedy when it is none, or could be two.
 * Year first, or a month in letters, needs no order. */
int rt_read_date(const char *cell, enum rt_date_order order, const char **reason, const char **remedy);

#endif
