#include "loader.h"

#include "ridgetally/base/memory.h"

#include <stdio.h>
#include <string.h>

/* The columns that identify a row, beside patient and implant. */
static const char *const key_fields[RT_RECORD_KINDS][5] = {
    [RT_IMPLANTS] = {NULL},
    [RT_FOLLOWUPS] = {"seen_on", "film", "reader", "reading", NULL},
    [RT_EVENTS] = {"happened_on", "event", NULL},
};

struct row_hashes {
    char key[RT_SHA256_HEX];
    char patient[RT_SHA256_HEX];
    char implant[RT_SHA256_HEX];
    char cells[RT_SHA256_HEX];
};

/* A waiting row taken out of the store for another try. */
struct waiting_row {
    int64_t id, batch;
    long line;
    enum rt_record_kind kind;
    char cells_hash[RT_SHA256_HEX];
    char *cells;
};

struct statement {
    struct rt_query **query;
    const char *sql;
};

enum rt_status open_refusals(struct loader *loader, struct rt_error *error)
{
    const struct statement statements[] = {
        {&loader->find_refused,
         "SELECT id, mended_batch_id FROM refused_row WHERE kind = :kind AND cells_hash = :cells_hash"},
        {&loader->add_refused,
         "INSERT INTO refused_row (batch_id, line, kind, key_hash, patient_hash, implant_hash, cells_hash, "
         "cells) "
         "VALUES (:batch_id, :line, :kind, :key_hash, :patient_hash, :implant_hash, :cells_hash, :cells)"},
        {&loader->reopen_refused, "UPDATE refused_row SET mended_batch_id = :mended WHERE id = :id"},
        {&loader->find_by_key, "SELECT id FROM refused_row WHERE kind = :kind AND key_hash = :key_hash "
                               "AND mended_batch_id IS NULL"},
        {&loader->find_by_implant,
         "SELECT id, batch_id, line, kind, cells_hash, cells FROM refused_row WHERE "
         "implant_hash = :implant_hash AND mended_batch_id IS NULL AND cells IS NOT NULL"},
        {&loader->find_refused_implant,
         "SELECT EXISTS (SELECT 1 FROM refused_row WHERE implant_hash = :implant_hash AND "
         "mended_batch_id IS NULL AND kind = 'implants')"},
        {&loader->add_doubt, "INSERT INTO doubt (batch_id, check_name, subject, source_batch_id, line, "
                             "column_name, value, weight, reason, "
                             "remedy) VALUES (:batch_id, 'refused', :subject, :batch_id, :line, "
                             ":column_name, :value, 'refused', :reason, "
                             ":remedy) ON CONFLICT DO NOTHING"},
    };
    enum rt_status status = rt_setting(loader->store, "hash_salt", &loader->salt, error);
    for (size_t i = 0; status == RT_OK && i < sizeof statements / sizeof statements[0]; i++)
        status = rt_query_open_text(loader->store, statements[i].sql, statements[i].query, error);
    struct rt_query *query = NULL;
    bool row = false;
    if (status == RT_OK)
        status = rt_query_open_text(loader->store,
                                    "SELECT EXISTS (SELECT 1 FROM refused_row WHERE mended_batch_id IS NULL)",
                                    &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    loader->any_waiting = status == RT_OK && row && rt_column_integer(query, 0, 0) != 0;
    rt_query_close(query);
    return status;
}

void close_refusals(struct loader *loader)
{
    struct rt_query *queries[] = {loader->find_refused, loader->add_refused,     loader->reopen_refused,
                                  loader->find_by_key,  loader->find_by_implant, loader->find_refused_implant,
                                  loader->add_doubt};
    for (size_t i = 0; i < sizeof queries / sizeof queries[0]; i++)
        rt_query_close(queries[i]);
    free(loader->salt);
    free(loader->refused_seen.bits);
    free(loader->replaced.bits);
}

static const char *cell_named(const struct rt_form *form, const struct record *record, const char *name)
{
    size_t field = rt_find_field(form, name);
    return field < form->count ? record->cells[field] : NULL;
}

static void hash_implant(const struct loader *loader, const char *patient, const char *implant,
                         char hex[RT_SHA256_HEX])
{
    const char *parts[] = {"implant", patient, implant};
    hash_parts(loader->salt, parts, 3, hex);
}

static void hash_row(const struct loader *loader, const struct record *record, struct row_hashes *hashes)
{
    const struct rt_form *form = rt_form(loader->kind);
    const char *parts[RT_MOST_FIELDS + 2];
    hash_patient(loader->salt, record->patient, hashes->patient);
    hash_implant(loader, record->patient, record->implant, hashes->implant);
    size_t count = 0;
    parts[count++] = form->name;
    parts[count++] = record->patient;
    parts[count++] = record->implant;
    for (size_t i = 0; key_fields[form->kind][i] != NULL; i++)
        parts[count++] = cell_named(form, record, key_fields[form->kind][i]);
    hash_parts(loader->salt, parts, count, hashes->key);
    parts[0] = form->name;
    for (size_t i = 0; i < form->count; i++)
        parts[1 + i] = record->cells[i];
    hash_parts(loader->salt, parts, 1 + form->count, hashes->cells);
}

/* The key a text cell of a row is sealed under: all of it but the salt is unknown to the store. */
static void seal_key(const struct loader *loader, const char *patient, const char *implant,
                     const char *cells_hash, const char *field, char hex[RT_SHA256_HEX])
{
    const char *parts[] = {"seal", patient, implant, cells_hash, field};
    hash_parts(loader->salt, parts, 5, hex);
}

/* Lines name=value of the cells that are there; text sealed, ids left out. */
static void pack_cells(const struct loader *loader, const struct record *record, const char *cells_hash,
                       struct rt_text *out)
{
    const struct rt_form *form = rt_form(loader->kind);
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        if (record->cells[i] == NULL || field->type == RT_FIELD_ID)
            continue;
        rt_text_format(out, "%s=", field->name);
        if (field->type == RT_FIELD_TEXT) {
            char key[RT_SHA256_HEX];
            seal_key(loader, record->patient, record->implant, cells_hash, field->name, key);
            seal_text(key, record->cells[i], out);
        } else {
            rt_text_add(out, record->cells[i]);
        }
        rt_text_add_character(out, '\n');
    }
}

/* Numbers and dates are shown as typed; anything that could be an id or text only as the start of its hash.
 */
static void show_value(const struct loader *loader, const struct rt_field *field, const char *cell,
                       char *shown, size_t size)
{
    size_t longest = strcmp(field->name, "birth_year") == 0 ? 4 : 12;
    bool plain = field->type != RT_FIELD_ID && field->type != RT_FIELD_TEXT && strlen(cell) <= longest &&
                 cell[strspn(cell, "0123456789.,+-<>= ")] == '\0';
    if (plain) {
        snprintf(shown, size, "%s", cell);
        return;
    }
    char hex[RT_SHA256_HEX];
    const char *parts[] = {"value", cell};
    hash_parts(loader->salt, parts, 2, hex);
    snprintf(shown, size, "#%.12s", hex);
}

/* The cell a fault is in; empty for a fault of the whole row. *field is its number, or the form's count. */
static const char *faulty_cell(const struct loader *loader, const struct record *record,
                               const struct rt_cell_fault *fault, size_t *field)
{
    const struct rt_form *form = rt_form(loader->kind);
    *field = rt_find_field(form, fault->column);
    return *field < form->count && record->cells[*field] != NULL ? record->cells[*field] : "";
}

/* The value stands with its column, unless it could be a name: its hash tells a reader nothing. */
static void tell_fault(const struct loader *loader, const struct record *record,
                       const struct rt_cell_fault *fault)
{
    size_t field;
    const char *cell = faulty_cell(loader, record, fault, &field);
    char shown[32] = "";
    char column[80];
    if (cell[0] != '\0')
        show_value(loader, &rt_form(loader->kind)->fields[field], cell, shown, sizeof shown);
    snprintf(column, sizeof column, "%s%s%s", fault->column, shown[0] == '\0' || shown[0] == '#' ? "" : " ",
             shown[0] == '#' ? "" : shown);
    add_detail(loader->report, record->line, column, fault->reason, fault->remedy);
}

static enum rt_status raise_refusal(struct loader *loader, const struct record *record, int64_t id,
                                    const struct rt_cell_fault *fault, struct rt_error *error)
{
    size_t field;
    const char *cell = faulty_cell(loader, record, fault, &field);
    char subject[40];
    char shown[32] = "";
    snprintf(subject, sizeof subject, "refused:%lld", (long long)id);
    if (cell[0] != '\0')
        show_value(loader, &rt_form(loader->kind)->fields[field], cell, shown, sizeof shown);
    rt_bind_integer(loader->add_doubt, ":batch_id", loader->batch);
    rt_bind_text(loader->add_doubt, ":subject", subject);
    rt_bind_integer(loader->add_doubt, ":line", record->line);
    rt_bind_text(loader->add_doubt, ":column_name", fault->column);
    rt_bind_text(loader->add_doubt, ":value", shown);
    rt_bind_text(loader->add_doubt, ":reason", fault->reason);
    rt_bind_text(loader->add_doubt, ":remedy", fault->remedy);
    enum rt_status status = rt_query_run(loader->add_doubt, error);
    if (status == RT_OK)
        loader->report->doubts_raised += (long)rt_rows_changed(loader->store);
    return status;
}

/* Set or clear when a refused row was mended, keeping what stood there for undo. */
static enum rt_status set_mended(struct loader *loader, int64_t id, const struct rt_value *before,
                                 const struct rt_value *after, struct rt_error *error)
{
    rt_bind_integer(loader->reopen_refused, ":id", id);
    bind_value(loader->reopen_refused, rt_parameter(loader->reopen_refused, ":mended"), after);
    enum rt_status status = rt_query_run(loader->reopen_refused, error);
    return status == RT_OK ? add_history(loader, "refused_row", id, "mended_batch_id", before, after, error)
                           : status;
}

static enum rt_status mend(struct loader *loader, int64_t id, struct rt_error *error)
{
    struct rt_value waiting = {.kind = RT_VALUE_NULL};
    struct rt_value mended = {.kind = RT_VALUE_INTEGER, .integer = loader->batch};
    loader->report->rows_mended++;
    return set_mended(loader, id, &waiting, &mended, error);
}

static enum rt_status keep_new_refusal(struct loader *loader, const struct record *record,
                                       const struct faults *faults, const struct row_hashes *hashes,
                                       struct rt_error *error)
{
    struct rt_text cells = {0};
    struct rt_query *add = loader->add_refused;
    if (faults->try_again)
        pack_cells(loader, record, hashes->cells, &cells);
    enum rt_status status = rt_text_status(&cells, error);
    rt_bind_integer(add, ":batch_id", loader->batch);
    rt_bind_integer(add, ":line", record->line);
    rt_bind_text(add, ":kind", rt_form(loader->kind)->name);
    rt_bind_text(add, ":key_hash", hashes->key);
    rt_bind_text(add, ":patient_hash", hashes->patient);
    rt_bind_text(add, ":implant_hash", hashes->implant);
    rt_bind_text(add, ":cells_hash", hashes->cells);
    rt_bind_text(add, ":cells", faults->try_again ? cells.bytes : NULL);
    if (status == RT_OK)
        status = rt_query_run(add, error);
    int64_t id = rt_last_row_id(loader->store);
    if (status == RT_OK)
        status = id_set_add(&loader->refused_seen, id, error);
    for (size_t i = 0; status == RT_OK && i < faults->count; i++)
        status = raise_refusal(loader, record, id, &faults->items[i], error);
    rt_text_release(&cells);
    return status;
}

enum rt_status refuse_record(struct loader *loader, const struct record *record, const struct faults *faults,
                             struct rt_error *error)
{
    struct row_hashes hashes;
    bool row = false;
    hash_row(loader, record, &hashes);
    for (size_t i = 0; i < faults->count; i++)
        tell_fault(loader, record, &faults->items[i]);
    rt_bind_text(loader->find_refused, ":kind", rt_form(loader->kind)->name);
    rt_bind_text(loader->find_refused, ":cells_hash", hashes.cells);
    enum rt_status status = rt_query_next(loader->find_refused, &row, error);
    int64_t id = status == RT_OK && row ? rt_column_integer(loader->find_refused, 0, 0) : 0;
    int64_t mended = id > 0 ? rt_column_integer(loader->find_refused, 1, 0) : 0;
    rt_query_reset(loader->find_refused);
    if (status != RT_OK)
        return status;
    if (id == 0)
        return keep_new_refusal(loader, record, faults, &hashes, error);
    status = id_set_add(&loader->refused_seen, id, error);
    struct rt_value before = {.kind = mended > 0 ? RT_VALUE_INTEGER : RT_VALUE_NULL, .integer = mended};
    struct rt_value waiting = {.kind = RT_VALUE_NULL};
    if (status == RT_OK && mended > 0)
        return set_mended(loader, id, &before, &waiting, error);
    /* nothing changes, but undo must know that this file holds the row too */
    return status == RT_OK
               ? add_history(loader, "refused_row", id, "mended_batch_id", &before, &waiting, error)
               : status;
}

enum rt_status was_refused(struct loader *loader, const struct record *record, bool *refused,
                           struct rt_error *error)
{
    char hash[RT_SHA256_HEX];
    bool row = false;
    *refused = false;
    if (!loader->any_waiting || record->implant[0] == '\0')
        return RT_OK;
    hash_implant(loader, record->patient, record->implant, hash);
    rt_bind_text(loader->find_refused_implant, ":implant_hash", hash);
    enum rt_status status = rt_query_next(loader->find_refused_implant, &row, error);
    *refused = status == RT_OK && row && rt_column_integer(loader->find_refused_implant, 0, 0) != 0;
    rt_query_reset(loader->find_refused_implant);
    return status;
}

enum rt_status note_accepted(struct loader *loader, const struct record *record, struct rt_error *error)
{
    if (!loader->any_waiting)
        return RT_OK;
    struct row_hashes hashes;
    hash_row(loader, record, &hashes);
    rt_bind_text(loader->find_by_key, ":kind", rt_form(loader->kind)->name);
    rt_bind_text(loader->find_by_key, ":key_hash", hashes.key);
    bool row = true;
    enum rt_status status = RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(loader->find_by_key, &row, error);
        if (status == RT_OK && row)
            status = id_set_add(&loader->replaced, rt_column_integer(loader->find_by_key, 0, 0), error);
    }
    rt_query_reset(loader->find_by_key);
    return status;
}

/* --- another try
 * -------------------------------------------------------------------------------------------- */

/* Split name=value lines into the record's cells, unsealing text. Text storage is opened, one slot per field.
 */
static bool unpack_cells(const struct loader *loader, const struct waiting_row *waiting, const char *patient,
                         const char *implant, struct record *record, struct rt_text *opened)
{
    const struct rt_form *form = rt_form(waiting->kind);
    char *line = waiting->cells;
    while (*line != '\0') {
        char *end = strchr(line, '\n');
        char *value = strchr(line, '=');
        if (end == NULL || value == NULL || value > end)
            return false;
        *end = '\0';
        *value++ = '\0';
        size_t field = rt_find_field(form, line);
        if (field == form->count)
            return false;
        record->cells[field] = value;
        if (form->fields[field].type == RT_FIELD_TEXT) {
            char key[RT_SHA256_HEX];
            seal_key(loader, patient, implant, waiting->cells_hash, form->fields[field].name, key);
            rt_text_add(&opened[field], "");
            if (!unseal_text(key, value, &opened[field]) || opened[field].failed)
                return false;
            record->cells[field] = opened[field].bytes;
        }
        line = end + 1;
    }
    return true;
}

static enum rt_status write_again(struct loader *loader, const struct waiting_row *waiting,
                                  struct record *record, struct rt_error *error)
{
    struct writer *writer = &loader->writers[waiting->kind];
    struct faults faults = {.count = 0};
    enum outcome outcome = OUTCOME_REFUSED;
    record->source_batch = waiting->batch;
    record->line = waiting->line;
    read_record(writer, record, &faults);
    if (faults.count > 0)
        return RT_OK; /* a later version may be stricter: the row stays waiting */
    enum rt_status status = find_owners(loader, waiting->kind, record, &faults, error);
    if (status != RT_OK || faults.count > 0)
        return status;
    status = write_record(loader, writer, record, false, &outcome, &faults, error);
    return status == RT_OK ? mend(loader, waiting->id, error) : status;
}

static enum rt_status try_row(struct loader *loader, const struct waiting_row *waiting, const char *patient,
                              const char *implant, struct rt_error *error)
{
    struct record record = {.line = 0};
    struct rt_text opened[RT_MOST_FIELDS] = {{0}};
    const struct rt_form *form = rt_form(waiting->kind);
    char patient_cell[RT_LONGEST_ID + 1];
    char implant_cell[RT_LONGEST_ID + 1];
    enum rt_status status = open_writer(loader, waiting->kind, error);
    snprintf(patient_cell, sizeof patient_cell, "%s", patient);
    snprintf(implant_cell, sizeof implant_cell, "%s", implant);
    record.cells[rt_find_field(form, "patient")] = patient_cell;
    record.cells[rt_find_field(form, "implant")] = implant_cell;
    if (status == RT_OK && unpack_cells(loader, waiting, patient, implant, &record, opened))
        status = write_again(loader, waiting, &record, error);
    for (size_t i = 0; i < RT_MOST_FIELDS; i++)
        rt_text_release(&opened[i]);
    return status;
}

static enum rt_status collect_waiting(struct loader *loader, struct waiting_row **rows, size_t *count,
                                      struct rt_error *error)
{
    size_t capacity = 0;
    bool row = true;
    enum rt_status status = RT_OK;
    struct rt_query *query = loader->find_by_implant;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        struct waiting_row *grown = rt_grow_array(*rows, &capacity, *count + 1, sizeof **rows);
        char *cells = rt_copy_text(rt_column_text(query, 5));
        if (grown != NULL)
            *rows = grown;
        if (grown == NULL || cells == NULL) {
            free(cells);
            status = rt_fail_memory(error);
            break;
        }
        struct waiting_row *waiting = &(*rows)[(*count)++];
        *waiting = (struct waiting_row){.id = rt_column_integer(query, 0, 0),
                                        .batch = rt_column_integer(query, 1, 0),
                                        .line = (long)rt_column_integer(query, 2, 0),
                                        .cells = cells};
        rt_find_kind(rt_column_text(query, 3), &waiting->kind);
        snprintf(waiting->cells_hash, sizeof waiting->cells_hash, "%s", rt_column_text(query, 4));
    }
    rt_query_reset(query);
    return status;
}

enum rt_status try_again(struct loader *loader, const char *patient, const char *implant,
                         struct rt_error *error)
{
    char hash[RT_SHA256_HEX];
    struct waiting_row *rows = NULL;
    size_t count = 0;
    hash_implant(loader, patient, implant, hash);
    rt_bind_text(loader->find_by_implant, ":implant_hash", hash);
    enum rt_status status = collect_waiting(loader, &rows, &count, error);
    for (size_t i = 0; i < count; i++) {
        if (status == RT_OK)
            status = try_row(loader, &rows[i], patient, implant, error);
        free(rows[i].cells);
    }
    free(rows);
    return status;
}

/* --- at the end of a file
 * ----------------------------------------------------------------------------------- */

/* Waiting rows of this kind that the file did not bring again, and whether the file is a later state of the
 * sheet they came from: of the same name, with at least half of that sheet's good rows in it. */
static const char settle_sql[] =
    "SELECT r.id, b.file_name = now.file_name AND b.rows_read > b.rows_refused "
    "  AND 2 * :known >= b.rows_read - b.rows_refused "
    "FROM refused_row r JOIN batch b ON b.id = r.batch_id JOIN batch now ON now.id = :batch "
    "WHERE r.kind = :kind AND r.mended_batch_id IS NULL AND r.batch_id <> :batch ORDER BY r.id";

enum rt_status settle_refusals(struct loader *loader, struct rt_error *error)
{
    if (!loader->any_waiting)
        return RT_OK;
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(loader->store, settle_sql, &query, error);
    rt_bind_integer(query, ":known", loader->report->rows_unchanged + loader->report->rows_changed);
    rt_bind_integer(query, ":batch", loader->batch);
    rt_bind_text(query, ":kind", rt_form(loader->kind)->name);
    struct id_set settled = {0};
    int64_t last = 0;
    bool row = true;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        int64_t id = status == RT_OK && row ? rt_column_integer(query, 0, 0) : 0;
        bool corrected = id > 0 && !id_set_has(&loader->refused_seen, id) &&
                         (id_set_has(&loader->replaced, id) || rt_column_integer(query, 1, 0) != 0);
        if (corrected) {
            last = id;
            status = id_set_add(&settled, id, error);
        }
    }
    rt_query_close(query);
    for (int64_t id = 1; status == RT_OK && id <= last; id++)
        if (id_set_has(&settled, id))
            status = mend(loader, id, error);
    free(settled.bits);
    return status;
}
