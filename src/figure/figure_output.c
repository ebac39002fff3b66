#include "ridgetally/figure/figure.h"

#include <math.h>

/* One cell of a row, whatever its type: CSV and JSON walk the same cells. */
struct cell {
    const char *name;
    enum { TEXT_CELL, NUMBER_CELL, COUNT_CELL } kind;
    const char *text;
    double number;
    long count;
};
enum { CELLS = 21 };

static struct cell text_cell(const char *name, const char *text)
{
    return (struct cell){.name = name, .kind = TEXT_CELL, .text = text, .number = NAN, .count = RT_NO_COUNT};
}

static struct cell number_cell(const char *name, double number)
{
    return (struct cell){
        .name = name, .kind = NUMBER_CELL, .text = "", .number = number, .count = RT_NO_COUNT};
}

static struct cell count_cell(const char *name, long count)
{
    return (struct cell){.name = name, .kind = COUNT_CELL, .text = "", .number = NAN, .count = count};
}

static void list_cells(const struct rt_figure *row, struct cell cells[CELLS])
{
    const struct cell all[CELLS] = {
        text_cell("section", row->section),
        text_cell("measure", row->measure),
        text_cell("grouping", row->grouping),
        text_cell("level", row->level),
        number_cell("at", row->at),
        count_cell("n_implants", row->n_implants),
        count_cell("n_patients", row->n_patients),
        count_cell("n_events", row->n_events),
        count_cell("n_due", row->n_due),
        number_cell("value", row->value),
        number_cell("lower", row->lower),
        number_cell("upper", row->upper),
        number_cell("p", row->p),
        number_cell("p_adjusted", row->p_adjusted),
        text_cell("unit", row->unit),
        text_cell("baseline", row->baseline),
        text_cell("site", row->site),
        text_cell("unit_of_analysis", row->unit_of_analysis),
        text_cell("method", row->method),
        text_cell("state", rt_figure_state_name(row->state)),
        text_cell("remark", row->remark),
    };
    for (size_t i = 0; i < CELLS; i++)
        cells[i] = all[i];
}

static void add_csv_row(struct rt_text *text, const struct cell cells[CELLS])
{
    for (size_t i = 0; i < CELLS; i++) {
        if (i > 0)
            rt_text_add_character(text, ',');
        if (cells[i].kind == TEXT_CELL)
            rt_text_add_csv_cell(text, cells[i].text, true);
        else if (cells[i].kind == NUMBER_CELL)
            rt_text_add_number(text, cells[i].number);
        else if (cells[i].count != RT_NO_COUNT)
            rt_text_format(text, "%ld", cells[i].count);
    }
    rt_text_add_character(text, '\n');
}

void rt_figures_to_csv(const struct rt_figure_list *list, struct rt_text *text)
{
    struct cell cells[CELLS];
    const struct rt_figure empty = rt_empty_figure();
    list_cells(&empty, cells);
    for (size_t i = 0; i < CELLS; i++)
        rt_text_format(text, "%s%s", i > 0 ? "," : "", cells[i].name);
    rt_text_add_character(text, '\n');
    for (size_t i = 0; i < list->count; i++) {
        list_cells(&list->rows[i], cells);
        add_csv_row(text, cells);
    }
}

static void add_json_cell(struct rt_text *text, const struct cell *cell)
{
    rt_text_add_json(text, cell->name);
    rt_text_add(text, ": ");
    if (cell->kind == TEXT_CELL)
        rt_text_add_json(text, cell->text[0] == '\0' ? NULL : cell->text);
    else if (cell->kind == COUNT_CELL && cell->count != RT_NO_COUNT)
        rt_text_format(text, "%ld", cell->count);
    else if (cell->kind == NUMBER_CELL && isfinite(cell->number))
        rt_text_add_number(text, cell->number);
    else
        rt_text_add(text, "null");
}

void rt_figures_to_json(const struct rt_figure_list *list, struct rt_text *text)
{
    struct cell cells[CELLS];
    rt_text_add_character(text, '[');
    for (size_t i = 0; i < list->count; i++) {
        rt_text_add(text, i > 0 ? ",\n{" : "\n{");
        list_cells(&list->rows[i], cells);
        for (size_t j = 0; j < CELLS; j++) {
            if (j > 0)
                rt_text_add(text, ", ");
            add_json_cell(text, &cells[j]);
        }
        rt_text_add_character(text, '}');
    }
    rt_text_add(text, list->count > 0 ? "\n]\n" : "]\n");
}

static void add_key_member(struct rt_text *text, const char *member)
{
    while (*member != '\0') {
        size_t run = 0;
        while ((unsigned char)member[run] >= 0x20 && member[run] != '/' && member[run] != '%')
            run++;
        rt_text_add_bytes(text, member, run);
        member += run;
        if (*member != '\0')
            rt_text_format(text, "%%%02X", (unsigned char)*member++);
    }
}

void rt_add_figure_key(struct rt_text *text, const struct rt_figure *figure)
{
    const char *const before[] = {figure->section, figure->measure, figure->grouping, figure->level};
    const char *const after[] = {figure->baseline, figure->site, figure->unit_of_analysis};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        add_key_member(text, before[i]);
        rt_text_add_character(text, '/');
    }
    rt_text_add_number(text, figure->at);
    for (size_t i = 0; i < sizeof after / sizeof after[0]; i++) {
        rt_text_add_character(text, '/');
        add_key_member(text, after[i]);
    }
}
