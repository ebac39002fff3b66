/* The columns of a sheet watched for what identifies people: warned of by column, never by value. */
#include "loader.h"

#include "ridgetally/base/memory.h"

#include <stdlib.h>
#include <string.h>

enum { ROWS_WATCHED = 10000, LEAST_CELLS = 3 };

/* What becomes of a column, and how many of its cells look like what. */
struct watched {
    char *header;
    const struct rt_field *field; /* NULL: it is not loaded */
    enum looks named;             /* by its header */
    bool free_text;               /* and text is taken */
    bool worth_looking, birth_year;
    long filled, dates;
    long looks[LOOKS];
};

struct watch {
    struct watched *columns;
    size_t count;
    long rows;
};

static const struct rt_field *field_of(const struct loader *loader, const char *header, bool *free_text)
{
    const struct rt_form *form = rt_form(loader->kind);
    const struct rt_map *map = loader->report->map;
    *free_text = loader->options->free_text;
    for (size_t j = 0; map != NULL && j < map->count; j++) {
        if (map->lines[j].header != NULL && strcmp(map->lines[j].header, header) == 0) {
            *free_text = *free_text || map->lines[j].free_text;
            return map->lines[j].field;
        }
    }
    size_t field = map == NULL ? rt_find_field(form, header) : form->count;
    return field < form->count ? &form->fields[field] : NULL;
}

/* Numbers, dates and codes of our own cannot name anyone; a year of birth can be a date. */
static bool is_worth_looking(const struct watched *column)
{
    const struct rt_field *field = column->field;
    return field == NULL || field->type == RT_FIELD_ID ||
           (field->type == RT_FIELD_TEXT && (!field->free_text || column->free_text)) || column->birth_year;
}

static enum rt_status start_watch(struct loader *loader, const struct rt_row *row, struct rt_error *error)
{
    struct watch *watch = rt_new_array(1, sizeof *watch);
    if (watch == NULL)
        return rt_fail_memory(error);
    loader->watch = watch;
    watch->columns = rt_new_array(row->count, sizeof *watch->columns);
    if (watch->columns == NULL)
        return rt_fail_memory(error);
    watch->count = row->count;
    for (size_t i = 0; i < row->count; i++) {
        struct watched *column = &watch->columns[i];
        column->header = rt_copy_text(row->cells[i]);
        if (column->header == NULL)
            return rt_fail_memory(error);
        column->field = field_of(loader, column->header, &column->free_text);
        column->named = header_looks_like(column->header);
        column->birth_year = column->field != NULL && strcmp(column->field->name, "birth_year") == 0;
        column->worth_looking = is_worth_looking(column);
    }
    return RT_OK;
}

enum rt_status watch_row(struct loader *loader, const struct rt_row *row, struct rt_error *error)
{
    if (loader->report->sheet_watched)
        return RT_OK;
    if (loader->watch == NULL)
        return start_watch(loader, row, error);
    if (loader->watch->rows++ >= ROWS_WATCHED)
        return RT_OK;
    for (size_t i = 0; i < loader->watch->count && i < row->count; i++) {
        struct watched *column = &loader->watch->columns[i];
        if (!column->worth_looking)
            continue;
        const char *cell = row->cells[i] + strspn(row->cells[i], " \t");
        if (*cell == '\0')
            continue;
        column->filled++;
        column->looks[cell_looks_like(cell)]++;
        if (column->birth_year)
            column->dates += cell_is_full_date(cell, NULL);
    }
    return RT_OK;
}

/* --- telling -------------------------------------------------------------------------------------------- */

static const char *const words[LOOKS] = {
    [LOOKS_MAIL] = "e-mail addresses",
    [LOOKS_BIRTH] = "dates of birth",
    [LOOKS_NUMBER] = "national or insurance numbers",
    [LOOKS_PHONE] = "telephone numbers",
    [LOOKS_ADDRESS] = "addresses",
    [LOOKS_NAME] = "names",
};

/* An e-mail address is one; anything else must be the habit of the column. */
static enum looks by_cells(const struct watched *column)
{
    if (column->looks[LOOKS_MAIL] > 0)
        return LOOKS_MAIL;
    for (size_t i = LOOKS_MAIL + 1; i < LOOKS; i++)
        if (column->looks[i] >= LEAST_CELLS && 2 * column->looks[i] >= column->filled)
            return (enum looks)i;
    return LOOKS_PLAIN;
}

/* What the column looks like and what to do; NULL = nothing to tell. */
static const char *advise(const struct loader *loader, const struct watched *column, enum looks *looks)
{
    const struct rt_field *field = column->field;
    *looks = by_cells(column);
    if (column->filled == 0)
        return NULL;
    if (field == NULL) {
        *looks = *looks != LOOKS_PLAIN ? *looks : column->named;
        return "it is not loaded; take it out of the sheet, which others may see";
    }
    if (column->birth_year) {
        bool mapped = loader->report->map != NULL;
        *looks = column->dates > 0 ? LOOKS_BIRTH : LOOKS_PLAIN;
        return mapped ? "only the year is taken; take the date out of the sheet, the year is enough"
                      : "rows with a full date are refused; type the year only";
    }
    if (strcmp(field->name, "patient") == 0) {
        /* the check of patient labels tells of names, e-mail and dates in them */
        bool told = *looks == LOOKS_NAME || *looks == LOOKS_MAIL || *looks == LOOKS_BIRTH;
        if (loader->options->key != NULL || told)
            *looks = LOOKS_PLAIN;
        else if (*looks == LOOKS_PLAIN && column->named != LOOKS_PLAIN)
            *looks = column->named;
        return "load into a new store with --pseudonym, or use labels of your own";
    }
    return field->type == RT_FIELD_ID || !field->free_text
               ? "use short codes of your own"
               : "load it without --text and without text in the map";
}

enum rt_status tell_watched(struct loader *loader, struct rt_error *error)
{
    const struct watch *watch = loader->watch;
    struct rt_text *text = &loader->report->warnings;
    for (size_t i = 0; watch != NULL && i < watch->count; i++) {
        enum looks looks;
        const char *advice = advise(loader, &watch->columns[i], &looks);
        if (advice == NULL || looks == LOOKS_PLAIN)
            continue;
        rt_text_add(text, "column '");
        rt_text_add_plain(text, watch->columns[i].header);
        rt_text_format(text, "' looks like %s: %s\n", words[looks], advice);
    }
    return rt_text_status(text, error);
}

void release_watch(struct watch *watch)
{
    for (size_t i = 0; watch != NULL && watch->columns != NULL && i < watch->count; i++)
        free(watch->columns[i].header);
    if (watch != NULL)
        free(watch->columns);
    free(watch);
}
