/* Inside of intake: rows of a foreign sheet, handed on as rows of one native kind. */
#ifndef RIDGETALLY_SRC_INTAKE_MAPPING_H
#define RIDGETALLY_SRC_INTAKE_MAPPING_H

#include "ridgetally/intake/map.h"

enum { MOST_MAPPED_FAULTS = 8 };

/* What could not be converted in the row just handed on. */
struct mapped_fault {
    const char *column; /* native name */
    const char *reason, *remedy;
};

/* Zero-initialise, fill the first five members, release after use. */
struct mapping {
    const struct rt_map *map;
    enum rt_record_kind kind;
    const struct rt_dialect *dialect;
    rt_row_function function; /* gets a native header first, then native rows */
    void *context;

    struct mapped_fault faults[MOST_MAPPED_FAULTS];
    size_t fault_count;
    long rows;              /* of the sheet, header not counted */
    struct rt_text unknown; /* their columns that the map does not name, comma-separated */

    bool header_read;
    size_t width;                      /* of their header */
    size_t cell_of[RT_MOST_MAP_LINES]; /* their column of each line of the map */
    const char *sets[RT_MOST_SETS];    /* of this kind; one "" where there are none */
    size_t set_count;
    size_t fields[RT_MOST_FIELDS]; /* native fields of the rows */
    size_t field_count;
    struct rt_text cells[RT_MOST_FIELDS];
    char label[16]; /* TOOTH@DATE */
};

/* A row of the sheet (rt_row_function; the header first). RT_INPUT when a column of the map is missing or stands twice. */
enum rt_status map_row(void *mapping, const struct rt_row *row, struct rt_error *error);

void release_mapping(struct mapping *mapping);

#endif
