#include "loader.h"

#include <string.h>

static enum rt_status fail_header(const char *path, const struct rt_row *row, struct rt_error *error)
{
    rt_error_locate(error, path, row->line, NULL);
    return RT_INPUT;
}

static enum rt_status map_cell(struct loader *loader, const struct rt_form *form, const char *path,
                               const struct rt_row *row, size_t cell, struct rt_error *error)
{
    const char *name = row->cells[cell];
    size_t field = rt_find_field(form, name);
    if (name[strspn(name, " ")] == '\0')
        return RT_OK;
    if (field == form->count) {
        struct rt_text *unknown = &loader->report->unknown_columns;
        rt_text_add(unknown, unknown->length > 0 ? ", " : "");
        rt_text_add(unknown, name);
        return rt_text_status(unknown, error);
    }
    if (loader->cell_of_field[field] != SIZE_MAX) {
        rt_fail(error, RT_INPUT, "column %s stands in the header twice", form->fields[field].name);
        rt_error_remedy(error, "remove or rename one of the two");
        return fail_header(path, row, error);
    }
    loader->cell_of_field[field] = cell;
    return RT_OK;
}

enum rt_status read_header(struct loader *loader, const char *path, const struct rt_row *row,
                           struct rt_error *error)
{
    const struct rt_form *form = rt_form(loader->kind);
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < RT_MOST_FIELDS; i++)
        loader->cell_of_field[i] = SIZE_MAX;
    for (size_t i = 0; status == RT_OK && i < row->count; i++)
        status = map_cell(loader, form, path, row, i, error);
    for (size_t i = 0; status == RT_OK && i < form->count; i++) {
        if (form->fields[i].key && loader->cell_of_field[i] == SIZE_MAX) {
            rt_fail(error, RT_INPUT, "column %s is missing, which every %s file must have",
                    form->fields[i].name, form->name);
            rt_error_remedy(error,
                            "add it to the header; `ridgetally new --sheets DIR` writes sheets to type into");
            status = fail_header(path, row, error);
        }
    }
    loader->cells_in_header = row->count;
    loader->header_read = true;
    return status;
}

/* --- guessing the kind ------------------------------------------------------------------------------------
 */

struct guess {
    const char *path;
    enum rt_record_kind kind;
};

static bool row_names(const struct rt_row *row, enum rt_record_kind kind, const char *name)
{
    const struct rt_form *form = rt_form(kind);
    for (size_t i = 0; i < row->count; i++) {
        size_t field = rt_find_field(form, row->cells[i]);
        if (field < form->count && strcmp(form->fields[field].name, name) == 0)
            return true;
    }
    return false;
}

/* How many of the row's cells name a column of the form. */
static size_t names_known(const struct rt_row *row, enum rt_record_kind kind)
{
    size_t known = 0;
    for (size_t i = 0; i < row->count; i++)
        known += rt_find_field(rt_form(kind), row->cells[i]) < rt_form(kind)->count;
    return known;
}

static enum rt_status guess_from_header(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct guess *guess = context;
    bool followups = row_names(row, RT_FOLLOWUPS, "seen_on");
    bool is_event = row_names(row, RT_EVENTS, "happened_on");
    if (followups && !is_event)
        guess->kind = RT_FOLLOWUPS;
    else if (is_event && !followups)
        guess->kind = RT_EVENTS;
    else if (!followups && !is_event && names_known(row, RT_IMPLANTS) >= 3)
        guess->kind = RT_IMPLANTS;
    else {
        rt_fail(error, RT_INPUT, "the header does not tell which records these are");
        if (row->count == 1)
            rt_error_remedy(
                error, "columns are separated by commas, semicolons, tabs or bars, and one of the first 20 "
                       "lines must name them, as `ridgetally new --sheets DIR` writes them");
        rt_error_remedy(
            error, "one of the first 20 lines must name the columns, as `ridgetally new --sheets DIR` writes "
                   "them; or say --kind implants, followups or events");
        return fail_header(guess->path, row, error);
    }
    return RT_PARTIAL; /* enough read */
}

/* --- how the file is written ---------------------------------------------------------------------------- */

bool holds_numbers(const struct rt_field *field)
{
    return field->type == RT_FIELD_NUMBER || field->type == RT_FIELD_INTEGER ||
           field->type == RT_FIELD_TORQUE;
}

/* Of the kind that knows most of the row. */
static size_t most_names_known(const void *context, const struct rt_row *row)
{
    (void)context;
    size_t most = 0;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        size_t known = names_known(row, (enum rt_record_kind)k);
        most = known > most ? known : most;
    }
    return most;
}

static bool name_holds_numbers(const void *context, const char *name)
{
    (void)context;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        size_t field = rt_find_field(form, name);
        if (field < form->count && holds_numbers(&form->fields[field]))
            return true;
    }
    return false;
}

enum rt_status rt_look_at_file(const char *path, const struct rt_load_options *options,
                               struct rt_dialect *dialect, enum rt_record_kind *kind, struct rt_error *error)
{
    static const struct rt_header_judge judge = {most_names_known, name_holds_numbers, NULL};
    struct guess guess = {.path = path, .kind = options->kind};
    *kind = options->kind;
    enum rt_status status = rt_detect_dialect(path, &options->dialect, &judge, dialect, error);
    if (status == RT_OK && !options->kind_given)
        status = rt_read_dialect_rows(path, dialect, guess_from_header, &guess, NULL, error);
    *kind = guess.kind;
    return status == RT_PARTIAL ? RT_OK : status;
}
