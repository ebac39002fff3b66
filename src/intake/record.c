#include "loader.h"

#include "ridgetally/base/date.h"

#include <stdio.h>
#include <string.h>

void add_fault(struct faults *faults, const char *column, const char *reason, const char *remedy)
{
    if (faults->count >= MOST_FAULTS)
        return;
    struct rt_cell_fault *fault = &faults->items[faults->count++];
    fault->column = column;
    snprintf(fault->reason, sizeof fault->reason, "%s", reason);
    snprintf(fault->remedy, sizeof fault->remedy, "%s", remedy);
}

const struct rt_value *value_of(const struct writer *writer, const struct record *record, const char *column)
{
    for (size_t i = 0; i < writer->columns.count; i++)
        if (strcmp(writer->columns.names[i], column) == 0)
            return &record->values[i];
    return NULL;
}

/* An implant without a label of its own is called TOOTH@DATE. Faults of those two cells have been told already. */
static void make_label(const struct writer *writer, struct record *record, struct faults *faults)
{
    const struct rt_value *tooth = value_of(writer, record, "tooth");
    const struct rt_value *placed = value_of(writer, record, "placed_on");
    char date[11];
    if (tooth->kind != RT_VALUE_NULL && placed->kind != RT_VALUE_NULL) {
        snprintf(record->made_label, sizeof record->made_label, "%d@%s", (int)tooth->integer,
                 rt_format_iso_date((int)placed->integer, date));
        record->implant = record->made_label;
    } else if (faults->count == 0) {
        add_fault(faults, "implant", "empty, and tooth and placed_on are not both there to make a label from",
                  "type a label, or the tooth and the day of placement");
    }
}

/* One fault per cell is told. */
static bool has_fault(const struct faults *faults, const char *column)
{
    for (size_t i = 0; i < faults->count; i++)
        if (strcmp(faults->items[i].column, column) == 0)
            return true;
    return false;
}

static void take_id(const struct rt_field *field, struct record *record, const struct rt_value *value)
{
    const char *text = value->kind == RT_VALUE_TEXT ? value->text : "";
    if (strcmp(field->name, "patient") == 0)
        record->patient = text;
    else
        record->implant = text;
}

void read_record(const struct writer *writer, struct record *record, struct faults *faults)
{
    const struct rt_form *form = writer->form;
    static char nothing[] = "";
    record->patient = "";
    record->implant = "";
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        struct rt_value values[2];
        struct rt_cell_fault fault;
        bool present = record->cells[i] != NULL;
        /* the cells are the reader's, which lets them be trimmed in place */
        if (!rt_read_cell(field, present ? (char *)record->cells[i] : nothing, values, &fault) &&
            !has_fault(faults, field->name))
            add_fault(faults, fault.column, fault.reason, fault.remedy);
        if (field->type == RT_FIELD_ID) {
            take_id(field, record, &values[0]);
            continue;
        }
        size_t column = writer->columns.of_field[i];
        size_t width = field->second_column == NULL ? 1 : 2;
        for (size_t j = 0; j < width; j++) {
            record->values[column + j] = values[j];
            record->present[column + j] = present;
        }
    }
    if (form->kind == RT_IMPLANTS && record->implant[0] == '\0')
        make_label(writer, record, faults);
}
