#include "loader.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* What differs between the three tables: owner columns, derived columns, and the key after the owner. */
struct table_shape {
    const char *owners[2];
    const char *derived[3];
    const char *key; /* WHERE clause over named parameters of this program */
};

static const struct table_shape shapes[RT_RECORD_KINDS] = {
    [RT_IMPLANTS] = {.owners = {"patient_id", "label"}, .key = "patient_id = :patient_id AND label = :label"},
    [RT_FOLLOWUPS] =
        {.owners = {"implant_id"},
         .derived = {"level_mesial_mm", "level_distal_mm", "calibration"},
         .key = "implant_id = :implant_id AND seen_on = :seen_on AND film = :film AND reader = :reader "
                "AND reading = :reading"},
    [RT_EVENTS] = {.owners = {"patient_id", "implant_id"},
                   .key = "patient_id = :patient_id AND coalesce(implant_id, 0) = coalesce(:implant_id, 0) "
                          "AND happened_on = :happened_on AND event = :event"},
};

/* --- sets of row ids
 * ---------------------------------------------------------------------------------------- */

bool id_set_has(const struct id_set *set, int64_t id)
{
    size_t byte = (size_t)id / 8;
    return byte < set->capacity && (set->bits[byte] & 1u << (unsigned)(id % 8)) != 0;
}

enum rt_status id_set_add(struct id_set *set, int64_t id, struct rt_error *error)
{
    size_t byte = (size_t)id / 8;
    if (byte >= set->capacity) {
        size_t capacity = set->capacity;
        unsigned char *bits = rt_grow_array(set->bits, &capacity, byte + 1, 1);
        if (bits == NULL)
            return rt_fail_memory(error);
        memset(bits + set->capacity, 0, capacity - set->capacity);
        set->bits = bits;
        set->capacity = capacity;
    }
    set->bits[byte] |= (unsigned char)(1u << (unsigned)(id % 8));
    return RT_OK;
}

/* --- statements
 * --------------------------------------------------------------------------------------------- */

static void list_columns(const struct rt_form *form, struct columns *columns)
{
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        const char *names[] = {field->column, field->second_column};
        columns->of_field[i] = columns->count;
        for (size_t j = 0; j < 2 && names[j] != NULL; j++) {
            columns->names[columns->count] = names[j];
            columns->fields[columns->count++] = field;
        }
    }
}

static void add_names(struct rt_text *sql, const char *const *names, size_t count, const char *before)
{
    for (size_t i = 0; i < count && names[i] != NULL; i++)
        rt_text_format(sql, "%s%s, ", before, names[i]);
}

/* The columns of an insert or their parameters. */
static void add_insert_list(const struct writer *writer, const char *before, struct rt_text *sql)
{
    const struct table_shape *shape = &shapes[writer->form->kind];
    rt_text_format(sql, "%sbatch_id, %ssource_batch_id, ", before, before);
    add_names(sql, shape->owners, 2, before);
    add_names(sql, shape->derived, 3, before);
    add_names(sql, writer->columns.names, writer->columns.count, before);
    rt_text_format(sql, "%ssource_line", before);
}

/* The statements are made of names in our own tables; no text of a user's file ever comes near them. */
static enum rt_status open_insert(struct rt_store *store, struct writer *writer, struct rt_error *error)
{
    struct rt_text sql = {0};
    rt_text_format(&sql, "INSERT INTO %s (", writer->form->table);
    add_insert_list(writer, "", &sql);
    rt_text_add(&sql, ") VALUES (");
    add_insert_list(writer, ":", &sql);
    rt_text_add(&sql, ") ON CONFLICT DO NOTHING");
    enum rt_status status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql.bytes, &writer->insert, error);
    rt_text_release(&sql);
    return status;
}

static enum rt_status open_select(struct rt_store *store, struct writer *writer, struct rt_error *error)
{
    struct rt_text sql = {0};
    rt_text_add(&sql, "SELECT ");
    add_names(&sql, writer->columns.names, writer->columns.count, "");
    rt_text_format(&sql, "id, source_batch_id, source_line FROM %s WHERE %s", writer->form->table,
                   shapes[writer->form->kind].key);
    enum rt_status status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql.bytes, &writer->select, error);
    rt_text_release(&sql);
    return status;
}

static enum rt_status open_update(struct rt_store *store, struct writer *writer, struct rt_error *error)
{
    const struct table_shape *shape = &shapes[writer->form->kind];
    struct rt_text sql = {0};
    rt_text_format(&sql, "UPDATE %s SET ", writer->form->table);
    for (size_t i = 0; i < writer->columns.count; i++)
        rt_text_format(&sql, "%s = :%s, ", writer->columns.names[i], writer->columns.names[i]);
    for (size_t i = 0; i < 3 && shape->derived[i] != NULL; i++)
        rt_text_format(&sql, "%s = :%s, ", shape->derived[i], shape->derived[i]);
    rt_text_add(&sql, "source_batch_id = :source_batch_id, source_line = :source_line WHERE id = :id");
    enum rt_status status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql.bytes, &writer->update, error);
    rt_text_release(&sql);
    return status;
}

static int column_parameter(const struct rt_query *query, const char *column)
{
    char name[64];
    snprintf(name, sizeof name, ":%s", column);
    return rt_parameter(query, name);
}

static void find_places(const struct columns *columns, const struct rt_query *query, struct places *places)
{
    for (size_t i = 0; i < columns->count; i++)
        places->columns[i] = column_parameter(query, columns->names[i]);
    places->patient_id = rt_parameter(query, ":patient_id");
    places->implant_id = rt_parameter(query, ":implant_id");
    places->label = rt_parameter(query, ":label");
    places->calibration = rt_parameter(query, ":calibration");
    places->levels[0] = rt_parameter(query, ":level_mesial_mm");
    places->levels[1] = rt_parameter(query, ":level_distal_mm");
    places->batch_id = rt_parameter(query, ":batch_id");
    places->source_batch_id = rt_parameter(query, ":source_batch_id");
    places->source_line = rt_parameter(query, ":source_line");
    places->id = rt_parameter(query, ":id");
}

static size_t column_number(const struct columns *columns, const char *name)
{
    size_t i = 0;
    while (i < columns->count && strcmp(columns->names[i], name) != 0)
        i++;
    return i;
}

enum rt_status open_writer(struct loader *loader, enum rt_record_kind kind, struct rt_error *error)
{
    struct writer *writer = &loader->writers[kind];
    if (writer->insert != NULL)
        return RT_OK;
    writer->form = rt_form(kind);
    writer->columns.count = 0;
    list_columns(writer->form, &writer->columns);
    enum rt_status status = open_insert(loader->store, writer, error);
    if (status == RT_OK)
        status = open_select(loader->store, writer, error);
    if (status == RT_OK)
        status = open_update(loader->store, writer, error);
    find_places(&writer->columns, writer->insert, &writer->insert_at);
    find_places(&writer->columns, writer->select, &writer->select_at);
    find_places(&writer->columns, writer->update, &writer->update_at);
    writer->imaged_length = column_number(&writer->columns, "imaged_length_mm");
    writer->length = column_number(&writer->columns, "length_mm");
    writer->raw_levels[0] = column_number(&writer->columns, "level_mesial_raw_mm");
    writer->raw_levels[1] = column_number(&writer->columns, "level_distal_raw_mm");
    return status;
}

void close_writer(struct writer *writer)
{
    rt_query_close(writer->insert);
    rt_query_close(writer->select);
    rt_query_close(writer->update);
    free(writer->seen.bits);
    *writer = (struct writer){0};
}

/* --- values
 * ------------------------------------------------------------------------------------------------- */

void bind_value(struct rt_query *query, int position, const struct rt_value *value)
{
    switch (value->kind) {
    case RT_VALUE_NULL:
        rt_bind_null_at(query, position);
        break;
    case RT_VALUE_INTEGER:
        rt_bind_integer_at(query, position, value->integer);
        break;
    case RT_VALUE_REAL:
        rt_bind_real_at(query, position, value->real);
        break;
    case RT_VALUE_TEXT:
        rt_bind_text_at(query, position, value->text);
        break;
    }
}

static struct rt_value column_value(const struct rt_query *query, int column, const struct rt_field *field,
                                    bool second)
{
    if (rt_column_is_null(query, column))
        return (struct rt_value){.kind = RT_VALUE_NULL};
    bool real = !second && (field->type == RT_FIELD_NUMBER || field->type == RT_FIELD_TORQUE);
    bool text = field->type == RT_FIELD_TEXT || field->type == RT_FIELD_CODE ||
                (second && field->type == RT_FIELD_DENSITY);
    if (real)
        return (struct rt_value){.kind = RT_VALUE_REAL, .real = rt_column_real(query, column)};
    if (text)
        return (struct rt_value){.kind = RT_VALUE_TEXT, .text = rt_column_text(query, column)};
    return (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = rt_column_integer(query, column, 0)};
}

static void bind_columns(const struct writer *writer, struct rt_query *query, const struct places *places,
                         const struct record *record)
{
    for (size_t i = 0; i < writer->columns.count; i++)
        bind_value(query, places->columns[i], &record->values[i]);
}

/* Both levels times length / imaged length; as recorded where one of the two lengths is not known. */
static void bind_levels(const struct writer *writer, struct rt_query *query, const struct places *places,
                        const struct record *record)
{
    const struct rt_value *imaged = &record->values[writer->imaged_length];
    bool known = imaged->kind == RT_VALUE_REAL && record->length_mm > 0;
    double factor = known ? record->length_mm / imaged->real : NAN;
    rt_bind_real_at(query, places->calibration, factor);
    for (size_t i = 0; i < 2; i++) {
        const struct rt_value *level = &record->values[writer->raw_levels[i]];
        double value = level->kind == RT_VALUE_REAL ? level->real : NAN;
        rt_bind_real_at(query, places->levels[i], known ? value * factor : value);
    }
}

static void bind_owners(struct rt_query *query, const struct places *places, const struct record *record)
{
    rt_bind_integer_at(query, places->patient_id, record->patient_id);
    if (record->implant_id > 0)
        rt_bind_integer_at(query, places->implant_id, record->implant_id);
    else
        rt_bind_null_at(query, places->implant_id);
    if (places->label > 0)
        rt_bind_text_at(query, places->label, record->implant);
}

/* --- writing
 * ------------------------------------------------------------------------------------------------ */

static enum rt_status insert_record(struct loader *loader, struct writer *writer, const struct record *record,
                                    bool *inserted, struct rt_error *error)
{
    const struct places *places = &writer->insert_at;
    bind_columns(writer, writer->insert, places, record);
    bind_owners(writer->insert, places, record);
    if (writer->form->kind == RT_FOLLOWUPS)
        bind_levels(writer, writer->insert, places, record);
    rt_bind_integer_at(writer->insert, places->batch_id, loader->batch);
    rt_bind_integer_at(writer->insert, places->source_batch_id, record->source_batch);
    rt_bind_integer_at(writer->insert, places->source_line, record->line);
    enum rt_status status = rt_query_run(writer->insert, error);
    *inserted = rt_rows_changed(loader->store) == 1;
    return status;
}

static void report_change(struct loader *loader, const struct record *record, const struct rt_field *field,
                          const struct rt_value *old_values, const struct rt_value *new_values)
{
    struct rt_text words = {0};
    rt_text_add(&words, "corrected from ");
    rt_add_value(&words, field, old_values);
    rt_text_add(&words, " to ");
    rt_add_value(&words, field, new_values);
    if (rt_text_status(&words, NULL) == RT_OK)
        add_detail(loader->report, record->line, field->name, words.bytes, NULL);
    rt_text_release(&words);
}

/* One field (one or two columns) against the row in the store. */
static enum rt_status compare_field(struct loader *loader, struct writer *writer, struct record *record,
                                    size_t field, int64_t id, bool overwrite, bool *differs,
                                    struct rt_error *error)
{
    const struct rt_field *what = &writer->form->fields[field];
    size_t first = writer->columns.of_field[field];
    size_t width = what->second_column == NULL ? 1 : 2;
    struct rt_value old_values[2] = {{.kind = RT_VALUE_NULL}, {.kind = RT_VALUE_NULL}};
    bool changed[2] = {false, false};
    for (size_t j = 0; j < width; j++) {
        old_values[j] = column_value(writer->select, (int)(first + j), what, j == 1);
        if (!record->present[first + j])
            record->values[first + j] = old_values[j];
        changed[j] = !rt_same_value(&old_values[j], &record->values[first + j]);
    }
    if (!changed[0] && !changed[1])
        return RT_OK;
    *differs = true;
    enum rt_status status = RT_OK;
    if (overwrite)
        report_change(loader, record, what, old_values, &record->values[first]);
    for (size_t j = 0; overwrite && status == RT_OK && j < width; j++)
        if (changed[j])
            status = add_history(loader, writer->form->table, id, writer->columns.names[first + j],
                                 &old_values[j], &record->values[first + j], error);
    return status;
}

/* Keep the old value of every column that differs; *differs tells whether any does. overwrite false: only
 * look. */
static enum rt_status compare_record(struct loader *loader, struct writer *writer, struct record *record,
                                     int64_t id, bool overwrite, bool *differs, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    *differs = false;
    for (size_t i = 0; status == RT_OK && i < writer->form->count; i++)
        if (writer->form->fields[i].column != NULL)
            status = compare_field(loader, writer, record, i, id, overwrite, differs, error);
    return status;
}

static enum rt_status keep_source(struct loader *loader, struct writer *writer, const struct record *record,
                                  int64_t id, struct rt_error *error)
{
    int after = (int)writer->columns.count;
    struct rt_value old_batch = {.kind = RT_VALUE_INTEGER,
                                 .integer = rt_column_integer(writer->select, after + 1, 0)};
    struct rt_value old_line = {.kind = RT_VALUE_INTEGER,
                                .integer = rt_column_integer(writer->select, after + 2, 0)};
    struct rt_value batch = {.kind = RT_VALUE_INTEGER, .integer = record->source_batch};
    struct rt_value line = {.kind = RT_VALUE_INTEGER, .integer = record->line};
    enum rt_status status =
        add_history(loader, writer->form->table, id, "source_batch_id", &old_batch, &batch, error);
    if (status == RT_OK)
        status = add_history(loader, writer->form->table, id, "source_line", &old_line, &line, error);
    return status;
}

static enum rt_status update_record(struct writer *writer, const struct record *record, int64_t id,
                                    struct rt_error *error)
{
    const struct places *places = &writer->update_at;
    bind_columns(writer, writer->update, places, record);
    if (writer->form->kind == RT_FOLLOWUPS)
        bind_levels(writer, writer->update, places, record);
    rt_bind_integer_at(writer->update, places->source_batch_id, record->source_batch);
    rt_bind_integer_at(writer->update, places->source_line, record->line);
    rt_bind_integer_at(writer->update, places->id, id);
    return rt_query_run(writer->update, error);
}

/* Two rows of one file with the same key and other values: which is right is for the practice to say. */
static void fault_repeated_key(struct loader *loader, const struct writer *writer, struct faults *faults)
{
    char reason[160];
    int after = (int)writer->columns.count;
    if (rt_column_integer(writer->select, after + 1, 0) == loader->batch)
        snprintf(reason, sizeof reason, "the same key as line %ld of this file, with other values",
                 (long)rt_column_integer(writer->select, after + 2, 0));
    else
        snprintf(reason, sizeof reason, "the same key as an earlier line of this file, with other values");
    add_fault(faults, writer->form->fields[0].name, reason, "keep the right one of the two rows");
}

static enum rt_status meet_known(struct loader *loader, struct writer *writer, struct record *record,
                                 bool overwrite, enum outcome *outcome, struct faults *faults,
                                 struct rt_error *error)
{
    int64_t id = rt_column_integer(writer->select, (int)writer->columns.count, 0);
    bool repeated = id_set_has(&writer->seen, id);
    bool differs = false;
    enum rt_status status =
        compare_record(loader, writer, record, id, overwrite && !repeated, &differs, error);
    *outcome = OUTCOME_UNCHANGED;
    if (status != RT_OK || !differs || !overwrite)
        return status == RT_OK ? id_set_add(&writer->seen, id, error) : status;
    if (repeated) {
        fault_repeated_key(loader, writer, faults);
        *outcome = OUTCOME_REFUSED;
        return RT_OK;
    }
    *outcome = OUTCOME_CHANGED;
    status = keep_source(loader, writer, record, id, error);
    if (status == RT_OK)
        status = update_record(writer, record, id, error);
    return status == RT_OK ? id_set_add(&writer->seen, id, error) : status;
}

enum rt_status write_record(struct loader *loader, struct writer *writer, struct record *record,
                            bool overwrite, enum outcome *outcome, struct faults *faults,
                            struct rt_error *error)
{
    bool inserted = false;
    bool row = false;
    enum rt_status status = insert_record(loader, writer, record, &inserted, error);
    *outcome = OUTCOME_NEW;
    if (status != RT_OK || inserted)
        return status == RT_OK ? id_set_add(&writer->seen, rt_last_row_id(loader->store), error) : status;
    bind_owners(writer->select, &writer->select_at, record);
    bind_columns(writer, writer->select, &writer->select_at, record);
    status = rt_query_next(writer->select, &row, error);
    if (status == RT_OK && !row)
        status = rt_fail(error, RT_STORE, "a row that is there cannot be found again");
    if (status == RT_OK)
        status = meet_known(loader, writer, record, overwrite, outcome, faults, error);
    rt_query_reset(writer->select);
    return status;
}

enum rt_status add_history(struct loader *loader, const char *table, int64_t row, const char *column,
                           const struct rt_value *old_value, const struct rt_value *new_value,
                           struct rt_error *error)
{
    struct rt_query *query = loader->add_history;
    rt_bind_integer(query, ":batch_id", loader->batch);
    rt_bind_text(query, ":table_name", table);
    rt_bind_integer(query, ":row_id", row);
    rt_bind_text(query, ":column_name", column);
    bind_value(query, rt_parameter(query, ":old_value"), old_value);
    bind_value(query, rt_parameter(query, ":new_value"), new_value);
    return rt_query_run(query, error);
}
