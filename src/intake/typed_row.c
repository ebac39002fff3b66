/* From the cells of a row to its values, before anyone looks into the store. */
#include "loader.h"

#include "ridgetally/base/memory.h"

#include <stdlib.h>
#include <string.h>

/* The cells of the form's fields, copied to where they stay. */
static enum rt_status take_cells(const struct loader *loader, const struct rt_form *form,
                                 const struct rt_row *row, struct typed_row *typed, struct rt_error *error)
{
    size_t lengths[RT_MOST_FIELDS];
    size_t needed = 1;
    for (size_t i = 0; i < form->count; i++) {
        size_t cell = loader->cell_of_field[i];
        lengths[i] = cell < row->count ? strlen(row->cells[cell]) + 1 : 0;
        needed += lengths[i];
    }
    char *bytes = rt_grow_array(typed->bytes, &typed->capacity, needed, 1);
    if (bytes == NULL)
        return rt_fail_memory(error);
    typed->bytes = bytes;
    *bytes++ = '\0'; /* a row may end before its last empty cells */
    for (size_t i = 0; i < form->count; i++) {
        size_t cell = loader->cell_of_field[i];
        if (cell == SIZE_MAX)
            continue;
        typed->record.cells[i] = lengths[i] > 0 ? memcpy(bytes, row->cells[cell], lengths[i]) : typed->bytes;
        bytes += lengths[i];
    }
    return RT_OK;
}

/* Before anything else looks at the cells: refused rows and their hashes know only the code as well. */
static void hide_patient(const struct loader *loader, const struct rt_form *form, struct typed_row *typed)
{
    struct record *record = &typed->record;
    size_t patient = rt_find_field(form, "patient");
    if (loader->options->key == NULL || record->cells[patient] == NULL)
        return;
    rt_pseudonym(loader->options->key, record->cells[patient], typed->code);
    record->cells[patient] = typed->code;
}

static bool takes_text(const struct loader *loader, const struct rt_field *field)
{
    const struct rt_map *map = loader->report->map;
    for (size_t j = 0; map != NULL && j < map->count; j++)
        if (map->lines[j].field == field && map->lines[j].free_text)
            return true;
    return loader->options->free_text;
}

/* Free text may name people: what is no short code is left out, as if the file had no such column. */
static void leave_text_out(struct loader *loader, const struct rt_form *form, struct record *record)
{
    for (size_t i = 0; i < form->count; i++) {
        if (!form->fields[i].free_text || record->cells[i] == NULL || is_short_code(record->cells[i]) ||
            takes_text(loader, &form->fields[i]))
            continue;
        loader->report->text_left_out++;
        record->cells[i] = NULL; /* what the store holds stays */
    }
}

/* Numbers with a decimal point, whatever the file's mark. */
static void point_decimals(const struct rt_dialect *dialect, const struct rt_form *form,
                           struct record *record, struct faults *faults)
{
    for (size_t i = 0; i < form->count; i++) {
        const char *reason = NULL;
        const char *remedy = NULL;
        if (record->cells[i] != NULL && holds_numbers(&form->fields[i]) &&
            !rt_point_decimal(dialect, (char *)record->cells[i], &reason, &remedy))
            add_fault(faults, form->fields[i].name, reason, remedy);
    }
}

static void check_length(const struct loader *loader, const struct rt_row *row, struct faults *faults)
{
    for (size_t i = loader->cells_in_header; i < row->count; i++) {
        if (row->cells[i][0] != '\0') {
            add_fault(faults, rt_form(loader->kind)->fields[0].name, "the row has more cells than the header",
                      "look for a comma inside a cell; put such a cell in quotes");
            return;
        }
    }
}

static enum rt_status keep_faults(const struct faults *found, struct typed_row *typed, struct rt_error *error)
{
    typed->faulty = found->count > 0;
    if (!typed->faulty)
        return RT_OK;
    if (typed->faults == NULL && (typed->faults = rt_new_array(1, sizeof *typed->faults)) == NULL)
        return rt_fail_memory(error);
    memcpy(typed->faults->items, found->items, found->count * sizeof found->items[0]);
    typed->faults->count = found->count;
    typed->faults->try_again = found->try_again;
    return RT_OK;
}

enum rt_status type_row(struct loader *loader, const struct rt_row *row, struct typed_row *typed,
                        struct rt_error *error)
{
    const struct rt_form *form = rt_form(loader->kind);
    struct faults found;
    struct faults *faults = &found;
    typed->record = (struct record){.line = row->line, .source_batch = loader->batch};
    typed->bytes_read = row->bytes_read;
    faults->count = 0;
    faults->try_again = false;
    enum rt_status status = take_cells(loader, form, row, typed, error);
    if (status != RT_OK)
        return status;
    hide_patient(loader, form, typed);
    leave_text_out(loader, form, &typed->record);
    if (loader->mapping == NULL)
        point_decimals(&loader->report->dialect, form, &typed->record, faults);
    for (size_t i = 0; loader->mapping != NULL && i < loader->mapping->fault_count; i++)
        add_fault(faults, loader->mapping->faults[i].column, loader->mapping->faults[i].reason,
                  loader->mapping->faults[i].remedy);
    read_record(&loader->writers[loader->kind], &typed->record, faults);
    check_length(loader, row, faults);
    return keep_faults(faults, typed, error);
}

void release_typed_row(struct typed_row *typed)
{
    free(typed->bytes);
    free(typed->faults);
}
