#include "mapping.h"

#include "convert.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

static bool concerns(const struct mapping *mapping, const struct rt_map_line *line)
{
    return line->field != NULL && (line->every_kind || line->kind == mapping->kind);
}

/* --- header --------------------------------------------------------------------------------------------- */

static enum rt_status fail_column(const struct rt_row *row, const char *what, const char *header,
                                  const char *remedy, struct rt_error *error)
{
    rt_fail(error, RT_INPUT, "%s '%s'", what, header);
    rt_error_locate(error, NULL, row->line, NULL);
    rt_error_remedy(error, "%s", remedy);
    return RT_INPUT;
}

static enum rt_status find_columns(struct mapping *mapping, const struct rt_row *row, struct rt_error *error)
{
    const struct rt_map *map = mapping->map;
    for (size_t j = 0; j < map->count; j++) {
        size_t found = 0;
        mapping->cell_of[j] = SIZE_MAX;
        for (size_t i = 0; map->lines[j].header != NULL && i < row->count; i++) {
            if (strcmp(row->cells[i], map->lines[j].header) == 0) {
                mapping->cell_of[j] = i;
                found++;
            }
        }
        if (map->lines[j].header != NULL && !map->lines[j].skip && found != 1)
            return found == 0
                       ? fail_column(row, "the sheet lacks a column of the map:", map->lines[j].header,
                                     "correct the map, or make a new one with `ridgetally match`", error)
                       : fail_column(row, "the sheet has two columns named", map->lines[j].header,
                                     "rename one of the two", error);
    }
    return RT_OK;
}

static bool map_names(const struct rt_map *map, const char *header)
{
    for (size_t j = 0; j < map->count; j++)
        if (map->lines[j].header != NULL && strcmp(map->lines[j].header, header) == 0)
            return true;
    return false;
}

static void list_unknown(struct mapping *mapping, const struct rt_row *row)
{
    for (size_t i = 0; i < row->count; i++) {
        if (row->cells[i][0] == '\0' || map_names(mapping->map, row->cells[i]))
            continue;
        rt_text_add(&mapping->unknown, mapping->unknown.length > 0 ? ", " : "");
        rt_text_add(&mapping->unknown, row->cells[i]);
    }
}

static enum rt_status list_sets(struct mapping *mapping, struct rt_error *error)
{
    for (size_t j = 0; j < mapping->map->count; j++) {
        const struct rt_map_line *line = &mapping->map->lines[j];
        bool known = !concerns(mapping, line) || line->set[0] == '\0' || line->header == NULL;
        for (size_t s = 0; !known && s < mapping->set_count; s++)
            known = strcmp(mapping->sets[s], line->set) == 0;
        if (known)
            continue;
        if (mapping->set_count == RT_MOST_SETS)
            return rt_fail(error, RT_INPUT, "the map has more than %d sets", RT_MOST_SETS);
        mapping->sets[mapping->set_count++] = line->set;
    }
    if (mapping->set_count == 0)
        mapping->sets[mapping->set_count++] = "";
    return RT_OK;
}

/* Patient and implant always, and what the map gives. */
static void list_fields(struct mapping *mapping)
{
    const struct rt_form *form = rt_form(mapping->kind);
    for (size_t i = 0; i < form->count; i++) {
        bool given = form->fields[i].type == RT_FIELD_ID;
        for (size_t j = 0; !given && j < mapping->map->count; j++)
            given = mapping->map->lines[j].field == &form->fields[i];
        if (given)
            mapping->fields[mapping->field_count++] = i;
    }
}

static enum rt_status hand_on(struct mapping *mapping, long line, struct rt_error *error)
{
    char *cells[RT_MOST_FIELDS];
    for (size_t i = 0; i < mapping->field_count; i++) {
        if (mapping->cells[i].failed)
            return rt_fail_memory(error);
        cells[i] = mapping->cells[i].bytes;
    }
    struct rt_row row = {cells, mapping->field_count, line, 0};
    return mapping->function(mapping->context, &row, error);
}

static enum rt_status take_header(struct mapping *mapping, const struct rt_row *row, struct rt_error *error)
{
    const struct rt_form *form = rt_form(mapping->kind);
    mapping->header_read = true;
    mapping->width = row->count;
    enum rt_status status = find_columns(mapping, row, error);
    if (status == RT_OK)
        status = list_sets(mapping, error);
    list_unknown(mapping, row);
    list_fields(mapping);
    for (size_t i = 0; i < mapping->field_count; i++)
        rt_text_add(&mapping->cells[i], form->fields[mapping->fields[i]].name);
    if (status == RT_OK)
        status = rt_text_status(&mapping->unknown, error);
    return status == RT_OK ? hand_on(mapping, row->line, error) : status;
}

/* --- rows ----------------------------------------------------------------------------------------------- */

static void add_fault(struct mapping *mapping, const char *column, const char *reason, const char *remedy)
{
    if (mapping->fault_count < MOST_MAPPED_FAULTS)
        mapping->faults[mapping->fault_count++] = (struct mapped_fault){column, reason, remedy};
}

/* The line that gives a field in a set: the set's own, else one for all sets. */
static size_t line_of(const struct mapping *mapping, const struct rt_field *field, const char *set)
{
    size_t common = SIZE_MAX;
    bool is_id = field->type == RT_FIELD_ID;
    for (size_t j = 0; j < mapping->map->count; j++) {
        const struct rt_map_line *line = &mapping->map->lines[j];
        bool same = line->field == field || (is_id && line->every_kind && line->field != NULL &&
                                             strcmp(line->field->name, field->name) == 0);
        if (same && strcmp(line->set, set) == 0)
            return j;
        if (same && line->set[0] == '\0')
            common = j;
    }
    return common;
}

/* The converted cell of a line, or its constant, into out. */
static bool give_cell(struct mapping *mapping, size_t j, const struct rt_row *row, struct rt_text *out)
{
    const struct rt_map_line *line = &mapping->map->lines[j];
    const char *reason = NULL;
    const char *remedy = NULL;
    size_t cell = mapping->cell_of[j];
    if (line->constant != NULL) {
        rt_text_add(out, line->constant);
        return true;
    }
    if (cell >= row->count) {
        rt_text_add(out, "");
        return true;
    }
    if (convert_cell(line, mapping->dialect, row->cells[cell], out, &reason, &remedy))
        return true;
    add_fault(mapping, line->field->name, reason, remedy);
    return false;
}

/* An implant without a label is called TOOTH@DATE, in all kinds alike. */
static void make_label(struct mapping *mapping, const struct rt_row *row, struct rt_text *out)
{
    const struct rt_form *form = rt_form(RT_IMPLANTS);
    size_t tooth = line_of(mapping, &form->fields[rt_find_field(form, "tooth")], "");
    size_t placed = line_of(mapping, &form->fields[rt_find_field(form, "placed_on")], "");
    struct rt_text label = {0};
    struct rt_text date = {0};
    if (mapping->kind == RT_IMPLANTS || tooth == SIZE_MAX || placed == SIZE_MAX)
        return;
    bool given = give_cell(mapping, tooth, row, &label) && give_cell(mapping, placed, row, &date) &&
                 label.length > 0 && date.length > 0;
    rt_text_add(&label, "@");
    rt_text_add(&label, given ? date.bytes : "");
    if (given)
        rt_text_add(out, label.bytes);
    out->failed = out->failed || label.failed || date.failed;
    rt_text_release(&label);
    rt_text_release(&date);
}

/* Whether a column of this set, constants aside, has anything in it. */
static bool fill_set(struct mapping *mapping, const struct rt_row *row, const char *set)
{
    const struct rt_form *form = rt_form(mapping->kind);
    bool anything = false;
    mapping->fault_count = 0;
    for (size_t i = 0; i < mapping->field_count; i++) {
        const struct rt_field *field = &form->fields[mapping->fields[i]];
        struct rt_text *out = &mapping->cells[i];
        size_t j = line_of(mapping, field, set);
        rt_text_clear(out);
        rt_text_add(out, "");
        if (j != SIZE_MAX)
            give_cell(mapping, j, row, out);
        if (strcmp(field->name, "implant") == 0 && out->length == 0)
            make_label(mapping, row, out);
        bool own = j != SIZE_MAX && mapping->map->lines[j].constant == NULL && field->type != RT_FIELD_ID &&
                   (set[0] == '\0' || mapping->map->lines[j].set[0] != '\0');
        anything = anything || (own && out->length > 0);
    }
    return anything;
}

static bool feeds_one_kind(const struct rt_map *map)
{
    int kinds = 0;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++)
        kinds += rt_map_feeds(map, (enum rt_record_kind)k);
    return kinds == 1;
}

enum rt_status map_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct mapping *mapping = context;
    enum rt_status status = RT_OK;
    if (!mapping->header_read)
        return take_header(mapping, row, error);
    mapping->rows++;
    for (size_t s = 0; status == RT_OK && s < mapping->set_count; s++) {
        bool anything = fill_set(mapping, row, mapping->sets[s]);
        /* an empty set is a visit that was not; but no row is left out of a sheet of one kind */
        bool whole =
            mapping->sets[s][0] == '\0' && (mapping->kind == RT_IMPLANTS || feeds_one_kind(mapping->map));
        for (size_t i = mapping->width; i < row->count; i++)
            if (row->cells[i][0] != '\0')
                add_fault(mapping, "patient", "the row has more cells than the header",
                          "look for a separator inside a cell; put such a cell in quotes");
        if (anything || whole)
            status = hand_on(mapping, row->line, error);
    }
    return status;
}

void release_mapping(struct mapping *mapping)
{
    for (size_t i = 0; i < RT_MOST_FIELDS; i++)
        rt_text_release(&mapping->cells[i]);
    rt_text_release(&mapping->unknown);
}
