#include "table.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const implant_columns[] = {
    "patient",          "implant",          "tooth",         "placed_on",        "operator",
    "implant_line",     "diameter_mm",      "length_mm",     "planned_depth_mm", "achieved_depth_mm",
    "depth_source",     "density_planned",  "density_found", "stalled",          "stall_height_mm",
    "stall_torque_ncm", "final_torque_ncm", "isq",           "tissue_mm",        "wall_buccal_mm",
    "wall_lingual_mm",  "bone_height_mm",   "changed",       "dense_drilling",   "next_size_possible",
    "closure",          "timing",           "graft",         "uncovered_on",     "loaded_on",
    "loaded",           "birth_year",       "sex",           "smoking",          "diabetes",
    "periodontitis"};

static const char *const followup_columns[] = {"patient",
                                               "implant",
                                               "seen_on",
                                               "visit",
                                               "film",
                                               "reader",
                                               "reading",
                                               "level_mesial_mm",
                                               "level_distal_mm",
                                               "level_kind",
                                               "imaged_length_mm",
                                               "readable",
                                               "radiolucency",
                                               "probing_mm",
                                               "bleeding",
                                               "suppuration",
                                               "mobile",
                                               "pain"};

static const char *const event_columns[] = {"patient", "implant", "happened_on", "event", "cause"};

/* One row under construction: cells are added left to right. */
struct row_builder {
    struct rt_sample_table *table;
    const char **cells;
    size_t filled;
    bool failed;
};

static void add_cell(struct row_builder *row, const char *text)
{
    const char *copy = rt_arena_copy(&row->table->arena, text);
    if (row->cells == NULL || copy == NULL || row->filled == row->table->column_count) {
        row->failed = true;
        return;
    }
    row->cells[row->filled++] = copy;
}

static void add_format(struct row_builder *row, const char *format, ...) RT_PRINTF(2, 3);

static void add_format(struct row_builder *row, const char *format, ...)
{
    char text[64];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    add_cell(row, text);
}

static void add_number(struct row_builder *row, double value, int decimals)
{
    if (isnan(value))
        add_cell(row, "");
    else
        add_format(row, "%.*f", decimals, value);
}

static void add_date(struct row_builder *row, int day)
{
    char text[11];
    add_cell(row, rt_format_iso_date(day, text));
}

static void add_yes_no(struct row_builder *row, bool yes)
{
    add_cell(row, yes ? "yes" : "no");
}

static enum rt_status start_row(struct rt_sample_table *table, struct row_builder *row,
                                struct rt_error *error)
{
    row->table = table;
    row->filled = 0;
    row->failed = false;
    row->cells = rt_arena_new(&table->arena, table->column_count * sizeof *row->cells);
    void *grown = rt_grow_array(table->rows, &table->row_capacity, table->row_count + 1, sizeof *table->rows);
    if (grown == NULL || row->cells == NULL)
        return rt_fail_memory(error);
    table->rows = grown;
    return RT_OK;
}

static enum rt_status end_row(struct row_builder *row, struct rt_error *error)
{
    if (row->failed || row->filled != row->table->column_count)
        return rt_fail_memory(error);
    row->table->rows[row->table->row_count++] = row->cells;
    return RT_OK;
}

static void add_label(struct row_builder *row, const struct rt_sample_practice *practice, size_t index)
{
    const struct rt_sample_implant *implant = &practice->implants[index];
    add_format(row, "%04d", practice->patients[implant->patient].number);
    add_format(row, "%d%c", implant->tooth, 'a' + implant->turn);
}

static void add_operation(struct row_builder *row, const struct rt_sample_implant *implant)
{
    add_format(row, "%d", implant->tooth);
    add_date(row, implant->placed_on);
    add_format(row, "%c", 'A' + implant->operator_index);
    add_cell(row, implant->line);
    add_number(row, implant->diameter_mm, 1);
    add_number(row, implant->length_mm, 0);
    add_number(row, implant->planned_depth_mm, 1);
    add_number(row, implant->achieved_depth_mm, 1);
    add_cell(row, implant->depth_from_film ? "film" : "surgery");
    add_format(row, "D%d", implant->density_planned + 1);
    add_format(row, "D%d", implant->density_found + 1);
    add_yes_no(row, implant->stalled);
    add_number(row, implant->stall_height_mm, 1);
    add_number(row, implant->stall_torque_ncm, 0);
    add_format(row, "%s%.0f", implant->torque_capped ? ">" : "", implant->final_torque_ncm);
    add_number(row, implant->isq, 0);
    add_number(row, implant->tissue_mm, 1);
    add_number(row, implant->wall_buccal_mm, 1);
    add_number(row, implant->wall_lingual_mm, 1);
    add_number(row, implant->bone_height_mm, 1);
}

static void add_course(struct row_builder *row, const struct rt_sample_implant *implant)
{
    add_yes_no(row, implant->changed);
    add_yes_no(row, implant->dense_drilling);
    add_yes_no(row, implant->next_size_possible);
    add_cell(row, implant->two_stage ? "two-stage" : "one-stage");
    add_cell(row, implant->timing);
    add_yes_no(row, implant->graft);
    add_date(row, implant->uncovered_on);
    add_date(row, implant->loaded_on);
    add_yes_no(row, implant->loaded_on != RT_NO_DATE);
}

static void add_person(struct row_builder *row, const struct rt_sample_patient *patient)
{
    static const char *const smoking[] = {"never", "former", "current"};
    add_format(row, "%d", patient->birth_year);
    add_cell(row, patient->sex);
    add_cell(row, smoking[patient->smoking]);
    add_cell(row, patient->diabetes);
    add_yes_no(row, patient->periodontitis);
}

static enum rt_status add_implant_row(const struct rt_sample_practice *practice, size_t index,
                                      struct rt_sample_table *table, struct rt_error *error)
{
    const struct rt_sample_implant *implant = &practice->implants[index];
    struct row_builder row;
    enum rt_status status = start_row(table, &row, error);
    if (status != RT_OK)
        return status;
    add_label(&row, practice, index);
    add_operation(&row, implant);
    add_course(&row, implant);
    add_person(&row, &practice->patients[implant->patient]);
    return end_row(&row, error);
}

static enum rt_status add_followup_row(const struct rt_sample_practice *practice, size_t index,
                                       struct rt_sample_table *table, struct rt_error *error)
{
    const struct rt_sample_followup *seen = &practice->followups[index];
    bool film = seen->film > 0;
    bool examined = strcmp(seen->visit, "placement") != 0;
    struct row_builder row;
    enum rt_status status = start_row(table, &row, error);
    if (status != RT_OK)
        return status;
    add_label(&row, practice, seen->implant);
    add_date(&row, seen->seen_on);
    add_cell(&row, seen->visit);
    if (film)
        add_format(&row, "F%05d", seen->film);
    else
        add_cell(&row, "");
    add_cell(&row, film ? seen->reader : "");
    if (film)
        add_format(&row, "%d", seen->reading);
    else
        add_cell(&row, "");
    add_number(&row, seen->mesial_mm, 1);
    add_number(&row, seen->distal_mm, 1);
    add_cell(&row, film && seen->readable ? "crest" : "");
    add_number(&row, seen->imaged_length_mm, 1);
    add_cell(&row, !film ? "" : seen->readable ? "yes" : "no");
    add_cell(&row, !film || !examined ? "" : seen->radiolucency ? "yes" : "no");
    add_number(&row, seen->probing_mm, 0);
    add_cell(&row, !examined ? "" : seen->bleeding ? "yes" : "no");
    add_cell(&row, !examined ? "" : seen->suppuration ? "yes" : "no");
    add_cell(&row, !examined ? "" : seen->mobile ? "yes" : "no");
    add_cell(&row, !examined ? "" : seen->pain ? "yes" : "no");
    return end_row(&row, error);
}

static enum rt_status add_event_row(const struct rt_sample_practice *practice, size_t index,
                                    struct rt_sample_table *table, struct rt_error *error)
{
    const struct rt_sample_event *event = &practice->events[index];
    struct row_builder row;
    enum rt_status status = start_row(table, &row, error);
    if (status != RT_OK)
        return status;
    if (event->implant == RT_WHOLE_PATIENT) {
        add_format(&row, "%04d", practice->patients[event->patient].number);
        add_cell(&row, "");
    } else {
        add_label(&row, practice, event->implant);
    }
    add_date(&row, event->happened_on);
    add_cell(&row, event->event);
    add_cell(&row, event->cause);
    return end_row(&row, error);
}

/* Sort by date, then patient and implant label; dates are ISO text, so text order is day order. */
static int compare_rows(const char **left, const char **right, size_t date_column)
{
    int order = strcmp(left[date_column], right[date_column]);
    for (size_t i = 0; order == 0 && i < 2; i++)
        order = strcmp(left[i], right[i]);
    return order;
}

/* Stable, so that first readings stay before second ones. */
static void merge_sort(const char ***rows, const char ***spare, size_t count, size_t date_column)
{
    if (count < 2)
        return;
    size_t half = count / 2;
    merge_sort(rows, spare, half, date_column);
    merge_sort(rows + half, spare, count - half, date_column);
    memcpy(spare, rows, count * sizeof *rows);
    size_t left = 0, right = half;
    for (size_t i = 0; i < count; i++) {
        bool take_left =
            right == count || (left < half && compare_rows(spare[left], spare[right], date_column) <= 0);
        rows[i] = take_left ? spare[left++] : spare[right++];
    }
}

static enum rt_status sort_rows(struct rt_sample_table *table, const char *date, struct rt_error *error)
{
    const char ***spare = rt_new_array(table->row_count, sizeof *spare);
    if (spare == NULL)
        return rt_fail_memory(error);
    merge_sort(table->rows, spare, table->row_count, rt_sample_column(table, date));
    free(spare);
    return RT_OK;
}

#define NAME_COLUMNS(table, names)                                                                           \
    ((table)->columns = (names), (table)->column_count = sizeof(names) / sizeof(names)[0])

enum rt_status rt_sample_make_tables(const struct rt_sample_practice *practice,
                                     struct rt_sample_tables *tables, struct rt_error *error)
{
    memset(tables, 0, sizeof *tables);
    tables->implants.name = "implants.csv";
    tables->followups.name = "followups.csv";
    tables->events.name = "events.csv";
    NAME_COLUMNS(&tables->implants, implant_columns);
    NAME_COLUMNS(&tables->followups, followup_columns);
    NAME_COLUMNS(&tables->events, event_columns);
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < practice->implant_count && status == RT_OK; i++)
        status = add_implant_row(practice, i, &tables->implants, error);
    for (size_t i = 0; i < practice->followup_count && status == RT_OK; i++)
        status = add_followup_row(practice, i, &tables->followups, error);
    for (size_t i = 0; i < practice->event_count && status == RT_OK; i++)
        status = add_event_row(practice, i, &tables->events, error);
    if (status == RT_OK)
        status = sort_rows(&tables->implants, "placed_on", error);
    if (status == RT_OK)
        status = sort_rows(&tables->followups, "seen_on", error);
    if (status == RT_OK)
        status = sort_rows(&tables->events, "happened_on", error);
    return status;
}

static void release_table(struct rt_sample_table *table)
{
    rt_arena_release(&table->arena);
    free(table->rows);
}

void rt_sample_release_tables(struct rt_sample_tables *tables)
{
    release_table(&tables->implants);
    release_table(&tables->followups);
    release_table(&tables->events);
    memset(tables, 0, sizeof *tables);
}

size_t rt_sample_column(const struct rt_sample_table *table, const char *column)
{
    for (size_t i = 0; i < table->column_count; i++)
        if (strcmp(table->columns[i], column) == 0)
            return i;
    fprintf(stderr, "generate-practice: %s has no column %s\n", table->name, column);
    abort(); /* a mistake in the generator itself */
}

enum rt_status rt_sample_set_cell(struct rt_sample_table *table, size_t row, const char *column,
                                  const char *text, struct rt_error *error)
{
    const char *copy = rt_arena_copy(&table->arena, text);
    if (copy == NULL)
        return rt_fail_memory(error);
    table->rows[row][rt_sample_column(table, column)] = copy;
    return RT_OK;
}

enum rt_status rt_sample_copy_row(struct rt_sample_table *table, size_t from, size_t to,
                                  struct rt_error *error)
{
    struct row_builder row;
    enum rt_status status = start_row(table, &row, error);
    if (status != RT_OK)
        return status;
    memcpy(row.cells, table->rows[from], table->column_count * sizeof *row.cells);
    memmove(table->rows + to + 1, table->rows + to, (table->row_count - to) * sizeof *table->rows);
    table->rows[to] = row.cells;
    table->row_count++;
    return RT_OK;
}

void rt_sample_table_to_csv(const struct rt_sample_table *table, struct rt_text *text)
{
    for (size_t i = 0; i < table->column_count; i++)
        rt_text_format(text, "%s%s", i > 0 ? "," : "", table->columns[i]);
    rt_text_add(text, "\n");
    for (size_t row = 0; row < table->row_count; row++) {
        for (size_t i = 0; i < table->column_count; i++) {
            rt_text_add(text, i > 0 ? "," : "");
            rt_text_add_csv_cell(text, table->rows[row][i], false);
        }
        rt_text_add(text, "\n");
    }
}
