#include "ridgetally/intake/match.h"

#include "loader.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { MOST_VALUES = 12, MOST_EXAMPLES = 3, LONGEST_VALUE = 24 };

/* One column of the sheet: what its header means and what its cells are like. */
struct column {
    const char *header;
    const struct rt_field *field; /* NULL = not understood */
    char unit[8];
    char rest[64];
    bool reversed;
    bool in_set;
    double confidence;
    long filled, fits;                           /* cells; cells that can be read as the field */
    long day_first, month_first, either, serial; /* dates */
    long odd;                                    /* numbers outside the plausible range */
    long only_iso, only_1_32;                    /* teeth */
    char values[MOST_VALUES][LONGEST_VALUE];     /* different ones */
    size_t value_count;
    bool many; /* there are more, or longer ones */
};

struct sheet {
    struct rt_dialect dialect;
    struct column *columns;
    size_t count;
    long rows;
    long unclear; /* numbers whose mark could be for decimals or thousands */
    struct rt_arena arena;
};

/* --- reading the sheet ---------------------------------------------------------------------------------- */

static size_t headers_understood(const void *context, const struct rt_row *row)
{
    (void)context;
    size_t known = 0;
    for (size_t i = 0; i < row->count; i++) {
        char unit[8], rest[64];
        bool reversed;
        double confidence;
        known +=
            row->cells[i][0] != '\0' && rt_meaning(row->cells[i], unit, &reversed, rest, &confidence) != NULL;
    }
    return known;
}

static bool header_holds_numbers(const void *context, const char *name)
{
    (void)context;
    char unit[8], rest[64];
    bool reversed;
    double confidence;
    const struct rt_field *field = rt_meaning(name, unit, &reversed, rest, &confidence);
    return field != NULL && holds_numbers(field);
}

static enum rt_status take_header(struct sheet *sheet, const struct rt_row *row, struct rt_error *error)
{
    sheet->columns = rt_new_array(row->count, sizeof *sheet->columns);
    if (sheet->columns == NULL)
        return rt_fail_memory(error);
    sheet->count = row->count;
    for (size_t i = 0; i < row->count; i++) {
        struct column *column = &sheet->columns[i];
        column->header = rt_arena_copy(&sheet->arena, row->cells[i]);
        if (column->header == NULL)
            return rt_fail_memory(error);
        if (column->header[0] != '\0')
            column->field = rt_meaning(column->header, column->unit, &column->reversed, column->rest,
                                       &column->confidence);
    }
    return RT_OK;
}

static void keep_value(struct column *column, const char *cell)
{
    for (size_t i = 0; i < column->value_count; i++)
        if (strcmp(column->values[i], cell) == 0)
            return;
    if (column->value_count == MOST_VALUES || strlen(cell) >= LONGEST_VALUE ||
        strpbrk(cell, "\r\n\"") != NULL) {
        column->many = true;
        return;
    }
    memcpy(column->values[column->value_count++], cell, strlen(cell) + 1);
}

static void look_at_date(struct column *column, const char *cell)
{
    const char *reason, *remedy;
    double serial = 0;
    int day_first = rt_read_date(cell, RT_DATES_DAY_FIRST, &reason, &remedy);
    int month_first = rt_read_date(cell, RT_DATES_MONTH_FIRST, &reason, &remedy);
    bool is_serial = rt_parse_number(cell, &serial) && serial >= 10000 && serial < 80000;
    column->serial += is_serial;
    column->fits += is_serial || day_first != RT_NO_DATE || month_first != RT_NO_DATE;
    column->day_first += day_first != RT_NO_DATE && month_first == RT_NO_DATE;
    column->month_first += day_first == RT_NO_DATE && month_first != RT_NO_DATE;
    column->either += day_first != RT_NO_DATE && month_first != RT_NO_DATE && day_first != month_first;
}

static void look_at_tooth(struct column *column, const char *cell)
{
    long n = 0;
    bool number = rt_parse_integer(cell + (cell[0] == '#'), &n);
    bool iso = n >= 11 && n <= 48 && n % 10 >= 1 && n % 10 <= 8;
    bool counted = n >= 1 && n <= 32;
    column->fits += number && (iso || counted);
    column->only_iso += number && iso && !counted;
    column->only_1_32 += number && counted && !iso;
}

static double unit_factor(const struct column *column)
{
    return strcmp(column->unit, "cm") == 0   ? 10
           : strcmp(column->unit, "in") == 0 ? 25.4
           : strcmp(column->unit, "Nm") == 0 ? 100
                                             : 1;
}

static void look_at_number(struct sheet *sheet, struct column *column, const char *cell)
{
    char copy[LONGEST_VALUE * 2];
    const char *reason, *remedy;
    double number = 0;
    snprintf(copy, sizeof copy, "%s", cell + strspn(cell, ">= "));
    size_t length = strlen(copy);
    if (length > 1 && copy[length - 1] == '+')
        copy[length - 1] = '\0';
    if (!rt_point_decimal(&sheet->dialect, copy, &reason, &remedy)) {
        column->fits++;
        sheet->unclear += sheet->dialect.decimal == '\0';
        return;
    }
    if (!rt_parse_number(copy, &number))
        return;
    number *= unit_factor(column) * (column->reversed ? -1 : 1);
    column->fits++;
    column->odd += number < column->field->soft_least || number > column->field->soft_most;
}

/* The year of birth, or a date that tells it. */
static void look_at_birth(struct column *column, const char *cell)
{
    double year = 0;
    bool number = rt_parse_number(cell, &year);
    bool serial = number && year >= 2200 && year < 80000;
    column->serial += serial;
    column->fits += serial || cell_is_full_date(cell, NULL) || (number && year >= 1900 && year <= 2100);
}

static bool is_birth_year(const struct rt_field *field)
{
    return strcmp(field->name, "birth_year") == 0;
}

static void look_at_cell(struct sheet *sheet, struct column *column, char *cell)
{
    cell += strspn(cell, " ");
    if (*cell == '\0' || column->field == NULL)
        return;
    column->filled++;
    if (column->field->type == RT_FIELD_ID || column->field->type == RT_FIELD_TEXT)
        return;
    if (is_birth_year(column->field)) {
        look_at_birth(column, cell);
        return; /* whose cells are shown in no draft */
    }
    keep_value(column, cell);
    if (column->field->type == RT_FIELD_DATE)
        look_at_date(column, cell);
    else if (column->field->type == RT_FIELD_TOOTH)
        look_at_tooth(column, cell);
    else if (holds_numbers(column->field))
        look_at_number(sheet, column, cell);
}

static enum rt_status take_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct sheet *sheet = context;
    if (sheet->columns == NULL)
        return take_header(sheet, row, error);
    sheet->rows++;
    for (size_t i = 0; i < row->count && i < sheet->count; i++)
        look_at_cell(sheet, &sheet->columns[i], row->cells[i]);
    return RT_OK;
}

/* --- deciding ------------------------------------------------------------------------------------------- */

static bool is_code(const struct rt_field *field)
{
    return field->type == RT_FIELD_YES_NO || field->type == RT_FIELD_CODE || field->type == RT_FIELD_DENSITY;
}

static enum rt_record_kind kind_of(const struct rt_field *field)
{
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        if (field >= form->fields && field < form->fields + form->count)
            return form->kind;
    }
    return RT_IMPLANTS;
}

/* Cells that are nothing like the field say that the header was misunderstood. */
static void drop_misunderstood(struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->count; i++) {
        struct column *column = &sheet->columns[i];
        if (column->field == NULL)
            continue;
        bool text = column->field->type == RT_FIELD_ID || column->field->type == RT_FIELD_TEXT;
        bool unlike = is_code(column->field) ? column->many : !text && column->fits * 2 < column->filled;
        if (unlike)
            column->field = NULL;
    }
}

/* Columns of one field: visits of a wide sheet are sets; else the surest stays. */
static void settle_same_fields(struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->count; i++) {
        for (size_t j = 0; j < sheet->count; j++) {
            struct column *a = &sheet->columns[i];
            struct column *b = &sheet->columns[j];
            if (i == j || a->field == NULL || a->field != b->field)
                continue;
            bool wide = kind_of(a->field) != RT_IMPLANTS && strcmp(a->rest, b->rest) != 0;
            if (wide)
                a->in_set = b->in_set = true;
            else if (a->confidence > b->confidence || (a->confidence == b->confidence && i < j))
                b->field = NULL;
        }
    }
    for (size_t i = 0; i < sheet->count; i++) {
        struct column *a = &sheet->columns[i];
        for (size_t j = 0; a->field != NULL && j < sheet->count; j++) {
            const struct column *b = &sheet->columns[j];
            a->in_set =
                a->in_set || (b->field != NULL && b->in_set && a->rest[0] != '\0' &&
                              kind_of(a->field) == kind_of(b->field) && strcmp(a->rest, b->rest) == 0);
        }
        if (a->in_set)
            a->confidence = 1; /* what the words left over is the visit */
    }
}

/* --- writing -------------------------------------------------------------------------------------------- */

static void add_quoted(struct rt_text *draft, const char *text)
{
    rt_text_add_character(draft, '"');
    for (; *text != '\0'; text++) {
        if (*text == '"')
            rt_text_add_character(draft, '"');
        rt_text_add_character(draft, *text);
    }
    rt_text_add_character(draft, '"');
}

static void add_dates(const struct sheet *sheet, struct rt_text *draft)
{
    long day_first = 0, month_first = 0, either = 0;
    for (size_t i = 0; i < sheet->count; i++) {
        const struct column *column = &sheet->columns[i];
        if (column->field == NULL || column->field->type != RT_FIELD_DATE)
            continue;
        day_first += column->day_first;
        month_first += column->month_first;
        either += column->either;
    }
    if (day_first > 0 && month_first > 0)
        rt_text_format(draft, "dates ask  # %ld dates can only be day-first, %ld only month-first\n",
                       day_first, month_first);
    else if (day_first > 0)
        rt_text_format(draft, "dates day-first  # proven by %ld dates\n", day_first);
    else if (month_first > 0)
        rt_text_format(draft, "dates month-first  # proven by %ld dates\n", month_first);
    else if (either > 0)
        rt_text_add(draft, "dates ask  # day-first or month-first? no date proves it\n");
}

static void add_teeth(const struct sheet *sheet, struct rt_text *draft)
{
    for (size_t i = 0; i < sheet->count; i++) {
        const struct column *column = &sheet->columns[i];
        if (column->field == NULL || column->field->type != RT_FIELD_TOOTH)
            continue;
        if (column->only_iso > 0 && column->only_1_32 == 0)
            rt_text_add(draft, "teeth iso  # proven by numbers over 32\n");
        else if (column->only_1_32 > 0 && column->only_iso == 0)
            rt_text_add(draft, "teeth 1-32  # proven by numbers that ISO 3950 does not have\n");
        else
            rt_text_add(draft, "teeth ask  # iso or 1-32? the numbers do not prove it\n");
    }
}

/* Our code for theirs where it needs no judgement; NULL = ask. */
static const char *code_for(const struct rt_field *field, const char *value)
{
    static const char *const yes[] = {"y",         "j", "ja", "oui",  "o",    "si",   "s", "s\xc3\xac",
                                      "s\xc3\xad", "1", "x",  "true", "wahr", "vrai", "+", NULL};
    static const char *const no[] = {"n", "nein", "non", "nee", "0", "false", "falsch", "faux", "-", NULL};
    static const struct {
        const char *field, *theirs, *ours;
    } codes[] = {{"sex", "female", "F"},
                 {"sex", "male", "M"},
                 {"sex", "w", "F"},
                 {"sex", "weiblich", "F"},
                 {"sex", "mannlich", "M"},
                 {"sex", "v", "F"},
                 {"smoking", "non-smoker", "never"},
                 {"smoking", "ex-smoker", "former"},
                 {"smoking", "ex", "former"},
                 {"smoking", "smoker", "current"},
                 {"smoking", "raucher", "current"},
                 {"smoking", "nichtraucher", "never"},
                 {"smoking", "exraucher", "former"},
                 {"diabetes", "kein", "none"},
                 {"closure", "1", "one-stage"},
                 {"closure", "2", "two-stage"},
                 {"closure", "open", "one-stage"},
                 {"closure", "closed", "two-stage"}};
    for (size_t i = 0; field->type == RT_FIELD_YES_NO && yes[i] != NULL; i++)
        if (strcasecmp(yes[i], value) == 0)
            return "yes";
    for (size_t i = 0; field->type == RT_FIELD_YES_NO && no[i] != NULL; i++)
        if (strcasecmp(no[i], value) == 0)
            return "no";
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++)
        if (strcmp(codes[i].field, field->name) == 0 && strcasecmp(codes[i].theirs, value) == 0)
            return codes[i].ours;
    return NULL;
}

static void add_codes(const struct column *column, struct rt_text *draft)
{
    bool first = true;
    for (size_t i = 0; i < column->value_count; i++) {
        char copy[LONGEST_VALUE];
        struct rt_value values[2];
        struct rt_cell_fault fault;
        memcpy(copy, column->values[i], sizeof copy);
        if (rt_read_cell(column->field, copy, values, &fault))
            continue;
        const char *code = code_for(column->field, column->values[i]);
        rt_text_add(draft, first ? " codes " : ", ");
        add_quoted(draft, column->values[i]);
        rt_text_add(draft, " = ");
        bool spaced = code != NULL && strchr(code, ' ') != NULL;
        if (spaced)
            add_quoted(draft, code);
        else
            rt_text_add(draft, code == NULL ? "ask" : code);
        first = false;
    }
}

static void add_unit(const struct column *column, struct rt_text *draft)
{
    const char *native = column->field->unit;
    bool length = strcmp(native, "mm") == 0;
    bool length_unit =
        strcmp(column->unit, "mm") == 0 || strcmp(column->unit, "cm") == 0 || strcmp(column->unit, "in") == 0;
    if (native[0] == '\0')
        return;
    bool stated = column->unit[0] != '\0';
    bool strange = stated ? length != length_unit : column->odd * 2 > column->fits;
    if (strange)
        rt_text_add(draft, " unit ask");
    else if (stated && strcmp(column->unit, native) != 0)
        rt_text_format(draft, " unit %s", column->unit);
}

static void add_examples(const struct column *column, struct rt_text *draft)
{
    rt_text_format(draft, "  # %.0f%%", 100 * column->confidence);
    bool text = column->field->type == RT_FIELD_ID || column->field->type == RT_FIELD_TEXT;
    for (size_t i = 0; !text && i < column->value_count && i < MOST_EXAMPLES; i++) {
        rt_text_add(draft, i == 0 ? ": " : ", ");
        rt_text_add_plain(draft, column->values[i]);
    }
}

static void add_column(const struct column *column, struct rt_text *draft)
{
    if (column->header[0] == '\0')
        return;
    if (strpbrk(column->header, "\r\n") != NULL) {
        rt_text_add(
            draft, "# a column whose name has a line break is left out; rename it in the sheet to load it\n");
        return;
    }
    rt_text_add(draft, "column ");
    add_quoted(draft, column->header);
    if (column->field == NULL) {
        bool personal = header_looks_like(column->header) != LOOKS_PLAIN;
        rt_text_add(draft, personal ? " -> skip  # of a person: has no place in the records\n"
                                    : " -> skip  # not understood\n");
        return;
    }
    rt_text_format(draft, " -> %s", column->field->name);
    if (column->in_set) {
        rt_text_add(draft, " set ");
        add_quoted(draft, column->rest[0] == '\0' ? "first" : column->rest);
    }
    add_unit(column, draft);
    if (column->reversed && holds_numbers(column->field))
        rt_text_add(draft, " sign reversed");
    if (column->serial > 0)
        rt_text_add(draft, " dates ask");
    if (is_code(column->field))
        add_codes(column, draft);
    add_examples(column, draft);
    rt_text_add(draft, "\n");
}

static bool has_field(const struct sheet *sheet, const char *name, const char *set)
{
    for (size_t i = 0; i < sheet->count; i++) {
        const struct column *column = &sheet->columns[i];
        if (column->field != NULL && strcmp(column->field->name, name) == 0 &&
            (set == NULL || !column->in_set || strcmp(column->rest, set) == 0))
            return true;
    }
    return false;
}

static const char *visit_of(const char *rest)
{
    static const struct {
        const char *word, *visit;
    } visits[] = {{"placement", "placement"}, {"insertion", "placement"}, {"baseline", "placement"},
                  {"basal", "placement"},     {"op", "placement"},        {"surgery", "placement"},
                  {"pose", "placement"},      {"uncover", "uncovering"},  {"freilegung", "uncovering"},
                  {"load", "loading"},        {"belastung", "loading"},   {"crown", "loading"},
                  {"krone", "loading"},       {"kroon", "loading"},       {"couronne", "loading"},
                  {"corona", "loading"},      {"charge", "loading"}};
    for (size_t i = 0; i < sizeof visits / sizeof visits[0]; i++)
        if (strstr(rest, visits[i].word) != NULL)
            return visits[i].visit;
    return "review";
}

/* What the columns leave to be said once. */
static void add_constants(const struct sheet *sheet, struct rt_text *draft)
{
    if (!has_field(sheet, "patient", NULL))
        rt_text_add(draft,
                    "# no column was understood as the patient's label: put -> patient to the right one\n");
    if (has_field(sheet, "happened_on", NULL) && !has_field(sheet, "event", NULL))
        rt_text_add(
            draft,
            "constant event ask  # removed, elective, unused, complication, moved_away, died or remade\n");
    for (size_t i = 0; i < sheet->count; i++) {
        const struct column *column = &sheet->columns[i];
        if (column->field == NULL || !column->in_set || strcmp(column->field->name, "seen_on") != 0)
            continue;
        if (has_field(sheet, "visit", column->rest))
            continue;
        rt_text_format(draft, "constant visit %s set ", visit_of(column->rest));
        add_quoted(draft, column->rest[0] == '\0' ? "first" : column->rest);
        rt_text_add(draft, "\n");
    }
    bool levels = has_field(sheet, "level_mesial_mm", NULL) || has_field(sheet, "level_distal_mm", NULL);
    if (levels && !has_field(sheet, "seen_on", NULL))
        rt_text_add(draft, "# readings need the day they were taken: no column was understood as seen_on\n");
}

/* What was stated about how the file is written stays stated. */
static void add_stated(const struct sheet *sheet, const struct rt_dialect *given, struct rt_text *draft)
{
    static const char *const encodings[] = {"", "utf-8", "utf-16le", "utf-16be", "windows-1252"};
    const char *separator = given->separator == ';'    ? "semicolon"
                            : given->separator == '\t' ? "tab"
                            : given->separator == '|'  ? "bar"
                                                       : "comma";
    if (given->sheet != NULL) {
        rt_text_add(draft, "sheet ");
        add_quoted(draft, given->sheet);
        rt_text_add(draft, "\n");
    }
    if (given->encoding != RT_ENCODING_DETECT)
        rt_text_format(draft, "encoding %s\n", encodings[given->encoding]);
    if (given->separator != '\0')
        rt_text_format(draft, "separator %s\n", separator);
    if (given->decimal != '\0')
        rt_text_format(draft, "decimal %s\n", given->decimal == ',' ? "comma" : "point");
    else if (sheet->unclear > 0)
        rt_text_add(draft, "decimal ask  # comma or point? 1,234 or 1.234 proves neither\n");
    if (given->header_line > 0)
        rt_text_format(draft, "header-line %ld\n", given->header_line);
}

static void add_draft(const struct sheet *sheet, const struct rt_dialect *given, struct rt_text *draft)
{
    rt_text_add(
        draft,
        "ridgetally map 1\n"
        "# A draft: check every line against the sheet, put what is right in the place of ask, and load\n"
        "# with --map. After # stand how sure the match is, and examples. `man ridgetally`, section MAPS.\n"
        "# Read as ");
    rt_add_dialect(draft, &sheet->dialect);
    rt_text_add(draft, "\n");
    add_stated(sheet, given, draft);
    add_dates(sheet, draft);
    add_teeth(sheet, draft);
    for (size_t i = 0; i < sheet->count; i++)
        add_column(&sheet->columns[i], draft);
    add_constants(sheet, draft);
}

static enum rt_status check_rows(const struct sheet *sheet, const char *path, struct rt_error *error)
{
    if (sheet->rows > 0)
        return RT_OK;
    rt_fail(error, RT_INPUT, "this file has a header and no rows");
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "check that this is the right file");
    return RT_INPUT;
}

enum rt_status rt_draft_map(const char *path, const struct rt_dialect *given, struct rt_text *draft,
                            struct rt_error *error)
{
    static const struct rt_header_judge judge = {headers_understood, header_holds_numbers, NULL};
    struct sheet sheet = {.count = 0};
    struct spool spool;
    enum rt_status status = open_spool(path, &spool, error);
    if (status == RT_OK)
        status = rt_detect_dialect(spool.path, given, &judge, &sheet.dialect, error);
    if (status == RT_OK)
        status = rt_read_dialect_rows(spool.path, &sheet.dialect, take_row, &sheet, NULL, error);
    if (status == RT_OK)
        status = check_rows(&sheet, spool.path, error);
    if (status == RT_OK) {
        drop_misunderstood(&sheet);
        settle_same_fields(&sheet);
        add_draft(&sheet, given, draft);
        status = rt_text_status(draft, error);
    }
    free(sheet.columns);
    rt_arena_release(&sheet.arena);
    close_spool(&spool, error);
    return status;
}
