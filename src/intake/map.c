#include "ridgetally/intake/map.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <stdint.h>
#include <string.h>

enum { MOST_WORDS = 64 };

struct word {
    const char *text;
    bool quoted;
};

struct parser {
    struct rt_map *map;
    const char *name;
    long line;
    struct word words[MOST_WORDS];
    size_t count;
    size_t at; /* next word */
    bool started;
    enum rt_date_order dates;
    enum rt_teeth teeth;
    struct rt_error *error;
};

static enum rt_status fail_map(const struct parser *parser, const char *what, const char *word)
{
    rt_fail(parser->error, RT_INPUT, "%s '%s'", what, word);
    rt_error_locate(parser->error, parser->name, parser->line, NULL);
    rt_error_remedy(parser->error, "see section MAPS of the manual page");
    return RT_INPUT;
}

static enum rt_status fail_ask(const struct parser *parser, const char *what)
{
    rt_fail(parser->error, RT_INPUT, "the map leaves %s open", what);
    rt_error_locate(parser->error, parser->name, parser->line, NULL);
    rt_error_remedy(parser->error, "put what is right in the place of ask");
    return RT_INPUT;
}

static const char *next_word(struct parser *parser)
{
    return parser->at < parser->count ? parser->words[parser->at++].text : "";
}

static bool next_is(const struct parser *parser, const char *word)
{
    return parser->at < parser->count && !parser->words[parser->at].quoted &&
           strcmp(parser->words[parser->at].text, word) == 0;
}

/* --- words ---------------------------------------------------------------------------------------------- */

/* One word from *at: quoted ("" is a quote inside), a = or a comma alone, or up to the next of these or a space. */
static enum rt_status take_word(struct parser *parser, const char **at, const char *end)
{
    struct rt_text text = {0};
    bool quoted = **at == '"', closed = true;
    const char *p = *at;
    rt_text_add(&text, "");
    if (quoted) {
        for (p++; p < end && (*p != '"' || (p + 1 < end && p[1] == '"')); p++) {
            p += *p == '"';
            rt_text_add_character(&text, *p);
        }
        closed = p < end;
        p += closed;
    } else if (*p == '=' || *p == ',') {
        rt_text_add_character(&text, *p++);
    } else {
        while (p < end && strchr(" \t=,\"", *p) == NULL)
            rt_text_add_character(&text, *p++);
    }
    *at = p;
    const char *copy = text.failed ? NULL : rt_arena_copy(&parser->map->arena, text.bytes);
    rt_text_release(&text);
    if (copy == NULL)
        return rt_fail_memory(parser->error);
    if (!closed)
        return fail_map(parser, "a quote is never closed before", copy);
    if (parser->count == MOST_WORDS)
        return fail_map(parser, "too many words from", copy);
    parser->words[parser->count++] = (struct word){copy, quoted};
    return RT_OK;
}

static enum rt_status split(struct parser *parser, const char *line, size_t length)
{
    const char *end = line + length;
    enum rt_status status = RT_OK;
    parser->count = parser->at = 0;
    while (status == RT_OK) {
        while (line < end && (*line == ' ' || *line == '\t' || *line == '\r'))
            line++;
        if (line == end || *line == '#')
            break;
        if (*line == '\0')
            return fail_map(parser, "this is not a text file", parser->name);
        status = take_word(parser, &line, end);
    }
    return status;
}

/* --- options of a column -------------------------------------------------------------------------------- */

static enum rt_status take_dates(struct parser *parser, enum rt_date_order *order)
{
    static const char *const words[] = {"proven", "day-first", "month-first", "serial-1900", "serial-1904"};
    const char *word = next_word(parser);
    if (strcmp(word, "ask") == 0)
        return fail_ask(parser, "whether dates are day-first or month-first");
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i], word) == 0) {
            *order = (enum rt_date_order)i;
            return RT_OK;
        }
    }
    return fail_map(parser, "dates are day-first, month-first, serial-1900 or serial-1904, not", word);
}

static enum rt_status take_teeth(struct parser *parser, enum rt_teeth *teeth)
{
    const char *word = next_word(parser);
    if (strcmp(word, "ask") == 0)
        return fail_ask(parser, "whether teeth are numbered iso or 1-32");
    *teeth = strcmp(word, "1-32") == 0 ? RT_TEETH_1_32 : RT_TEETH_ISO;
    return *teeth == RT_TEETH_1_32 || strcmp(word, "iso") == 0
               ? RT_OK
               : fail_map(parser, "teeth are numbered iso or 1-32, not", word);
}

static enum rt_status take_unit(struct parser *parser, struct rt_map_line *line)
{
    static const struct {
        const char *of, *unit;
        double factor;
    } units[] = {{"mm", "mm", 1},     {"mm", "cm", 10},  {"mm", "in", 25.4},
                 {"mm", "um", 0.001}, {"Ncm", "Ncm", 1}, {"Ncm", "Nm", 100}};
    const char *word = next_word(parser);
    if (strcmp(word, "ask") == 0)
        return fail_ask(parser, "the unit of a column");
    for (size_t i = 0; line->field != NULL && i < sizeof units / sizeof units[0]; i++) {
        if (strcmp(units[i].of, line->field->unit) == 0 && strcmp(units[i].unit, word) == 0) {
            line->factor *= units[i].factor;
            return RT_OK;
        }
    }
    return fail_map(parser, "the field has no unit", word);
}

/* code "theirs" = ours, ... to the end of the line. */
static enum rt_status take_codes(struct parser *parser, struct rt_map_line *line)
{
    while (parser->at < parser->count) {
        const char *from = next_word(parser);
        if (!next_is(parser, "="))
            return fail_map(parser, "a code is written \"theirs\" = ours, not", from);
        parser->at++;
        const char *to = next_word(parser);
        if (strcmp(to, "ask") == 0)
            return fail_ask(parser, "what a code means");
        if (line->codes == RT_MOST_CODES)
            return fail_map(parser, "too many codes from", from);
        line->from[line->codes] = from;
        line->to[line->codes++] = strcmp(to, "empty") == 0 ? "" : to;
        if (next_is(parser, ","))
            parser->at++;
    }
    return RT_OK;
}

static enum rt_status take_option(struct parser *parser, struct rt_map_line *line)
{
    const char *option = next_word(parser);
    if (strcmp(option, "unit") == 0)
        return take_unit(parser, line);
    if (strcmp(option, "dates") == 0)
        return take_dates(parser, &line->dates);
    if (strcmp(option, "teeth") == 0)
        return take_teeth(parser, &line->teeth);
    if (strcmp(option, "codes") == 0)
        return take_codes(parser, line);
    if (strcmp(option, "text") == 0 && line->field != NULL && line->field->free_text) {
        line->free_text = true;
        return RT_OK;
    }
    const char *word = next_word(parser);
    double factor = 0;
    if (strcmp(option, "set") == 0 && word[0] != '\0') {
        line->set = word;
        return RT_OK;
    }
    if (strcmp(option, "sign") == 0 && strcmp(word, "reversed") == 0) {
        line->factor = -line->factor;
        return RT_OK;
    }
    if (strcmp(option, "sign") == 0 && strcmp(word, "ask") == 0)
        return fail_ask(parser, "the sign of a column");
    if (strcmp(option, "factor") == 0 && rt_parse_number(word, &factor) && factor != 0) {
        line->factor *= factor;
        return RT_OK;
    }
    return fail_map(parser, "a column has no option", option);
}

/* --- statements ----------------------------------------------------------------------------------------- */

static enum rt_status find_target(struct parser *parser, struct rt_map_line *line)
{
    const char *word = next_word(parser);
    line->every_kind = strcmp(word, "patient") == 0 || strcmp(word, "implant") == 0;
    line->skip = strcmp(word, "skip") == 0;
    if (strcmp(word, "ask") == 0)
        return fail_ask(parser, "what a column is");
    for (size_t k = 0; !line->skip && k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; i < form->count; i++) {
            if (strcmp(form->fields[i].name, word) == 0) {
                line->field = &form->fields[i];
                line->kind = form->kind;
                return RT_OK;
            }
        }
    }
    return line->skip ? RT_OK : fail_map(parser, "there is no field", word);
}

static enum rt_status add_line(struct parser *parser, const struct rt_map_line *line)
{
    struct rt_map *map = parser->map;
    for (size_t i = 0; i < map->count; i++) {
        const struct rt_map_line *other = &map->lines[i];
        if (!line->skip && other->field == line->field && strcmp(other->set, line->set) == 0)
            return fail_map(parser, "a second line (in the same set) gives", line->field->name);
    }
    if (map->count == RT_MOST_MAP_LINES)
        return fail_map(parser, "too many lines in", parser->name);
    struct rt_map_line *lines = rt_grow_array(map->lines, &map->capacity, map->count + 1, sizeof *lines);
    if (lines == NULL)
        return rt_fail_memory(parser->error);
    map->lines = lines;
    map->lines[map->count++] = *line;
    return RT_OK;
}

static bool is_number(const struct rt_field *field)
{
    return field->type == RT_FIELD_NUMBER || field->type == RT_FIELD_INTEGER ||
           field->type == RT_FIELD_TORQUE;
}

static enum rt_status take_column(struct parser *parser, bool constant)
{
    struct rt_map_line line = {.set = "", .factor = 1, .dates = parser->dates, .teeth = parser->teeth};
    if (!constant) {
        line.header = next_word(parser);
        if (!next_is(parser, "->"))
            return fail_map(parser, "a column is written column \"theirs\" -> field, not", line.header);
        parser->at++;
    }
    enum rt_status status = find_target(parser, &line);
    if (status == RT_OK && constant) {
        line.constant = next_word(parser);
        if (strcmp(line.constant, "ask") == 0)
            return fail_ask(parser, "a constant");
    }
    while (status == RT_OK && parser->at < parser->count)
        status = take_option(parser, &line);
    if (status == RT_OK && line.factor != 1 && (line.skip || !is_number(line.field)))
        status = fail_map(parser, "unit, sign and factor need a number field, not",
                          line.skip ? "skip" : line.field->name);
    if (status == RT_OK && line.set[0] != '\0' && (line.skip || line.every_kind))
        status = fail_map(parser, "what belongs to all sets cannot be in set", line.set);
    return status == RT_OK ? add_line(parser, &line) : status;
}

static enum rt_status take_statement(struct parser *parser)
{
    const char *word = next_word(parser);
    struct rt_dialect *dialect = &parser->map->dialect;
    if (!parser->started) {
        bool first = strcmp(word, "ridgetally") == 0 && next_is(parser, "map");
        parser->started = true;
        return first && parser->count == 3 && strcmp(parser->words[2].text, "1") == 0
                   ? RT_OK
                   : fail_map(parser, "a map begins with the line `ridgetally map 1`, not", word);
    }
    if (strcmp(word, "column") == 0 || strcmp(word, "constant") == 0)
        return take_column(parser, word[2] == 'n');
    if (strcmp(word, "dates") == 0)
        return take_dates(parser, &parser->dates);
    if (strcmp(word, "teeth") == 0)
        return take_teeth(parser, &parser->teeth);
    const char *value = next_word(parser);
    if (strcmp(word, "sheet") == 0 && value[0] != '\0') {
        dialect->sheet = value;
        return RT_OK;
    }
    if (strcmp(word, "encoding") == 0 && rt_find_encoding(value, &dialect->encoding))
        return RT_OK;
    if (strcmp(word, "separator") == 0 && rt_find_separator(value, &dialect->separator))
        return RT_OK;
    if (strcmp(word, "decimal") == 0 && strcmp(value, "ask") == 0)
        return fail_ask(parser, "the decimal mark");
    if (strcmp(word, "decimal") == 0 && rt_find_decimal(value, &dialect->decimal))
        return RT_OK;
    if (strcmp(word, "header-line") == 0 && rt_parse_integer(value, &dialect->header_line) &&
        dialect->header_line > 0)
        return RT_OK;
    return fail_map(parser, "this is no statement of a map:", word);
}

static enum rt_status check_whole(struct parser *parser)
{
    bool patient = false;
    bool any = false;
    for (size_t i = 0; i < parser->map->count; i++) {
        const struct rt_map_line *line = &parser->map->lines[i];
        patient = patient || (line->field != NULL && strcmp(line->field->name, "patient") == 0);
        any = any || (line->header != NULL && line->field != NULL && !line->every_kind);
    }
    if (patient && any)
        return RT_OK;
    rt_fail(parser->error, RT_INPUT,
            patient ? "the map loads nothing but labels" : "the map has no column for patient");
    rt_error_locate(parser->error, parser->name, 0, NULL);
    rt_error_remedy(parser->error, "see section MAPS of the manual page");
    return RT_INPUT;
}

enum rt_status rt_parse_map(const char *name, const char *text, size_t length, struct rt_map *map,
                            struct rt_error *error)
{
    struct rt_error local = {0};
    struct parser parser = {.map = map, .name = name, .error = error == NULL ? &local : error};
    enum rt_status status = RT_OK;
    const char *end = text + length;
    while (status == RT_OK && text < end) {
        const char *newline = memchr(text, '\n', (size_t)(end - text));
        size_t size = (size_t)((newline == NULL ? end : newline) - text);
        parser.line++;
        status = split(&parser, text, size);
        if (status == RT_OK && parser.count > 0)
            status = take_statement(&parser);
        text += size + (newline != NULL);
    }
    return status == RT_OK ? check_whole(&parser) : status;
}

void rt_release_map(struct rt_map *map)
{
    free(map->lines);
    rt_arena_release(&map->arena);
    *map = (struct rt_map){.count = 0};
}

bool rt_map_feeds(const struct rt_map *map, enum rt_record_kind kind)
{
    for (size_t i = 0; i < map->count; i++) {
        const struct rt_map_line *line = &map->lines[i];
        if (line->header != NULL && line->field != NULL && !line->every_kind && line->kind == kind)
            return true;
    }
    return false;
}

/* A # that begins a word ends the line; inside quotes it does not. */
void rt_strip_map(const char *text, struct rt_text *out)
{
    while (*text != '\0') {
        size_t length = strcspn(text, "\n");
        size_t kept = 0;
        bool quoted = false;
        while (kept < length) {
            if (text[kept] == '"')
                quoted = !quoted;
            if (text[kept] == '#' && !quoted &&
                (kept == 0 || text[kept - 1] == ' ' || text[kept - 1] == '\t'))
                break;
            kept++;
        }
        while (kept > 0 && strchr(" \t\r", text[kept - 1]) != NULL)
            kept--;
        if (kept > 0) {
            rt_text_add_bytes(out, text, kept);
            rt_text_add_character(out, '\n');
        }
        text += length + (text[length] == '\n');
    }
}

/* --- judge ---------------------------------------------------------------------------------------------- */

static size_t columns_known(const void *context, const struct rt_row *row)
{
    const struct rt_map *map = context;
    size_t known = 0;
    for (size_t i = 0; i < row->count; i++) {
        bool found = false;
        for (size_t j = 0; !found && j < map->count; j++)
            found = map->lines[j].header != NULL && strcmp(map->lines[j].header, row->cells[i]) == 0;
        known += found;
    }
    return known;
}

static bool column_holds_numbers(const void *context, const char *name)
{
    const struct rt_map *map = context;
    for (size_t j = 0; j < map->count; j++)
        if (map->lines[j].header != NULL && map->lines[j].field != NULL && is_number(map->lines[j].field) &&
            strcmp(map->lines[j].header, name) == 0)
            return true;
    return false;
}

struct rt_header_judge rt_map_judge(const struct rt_map *map)
{
    return (struct rt_header_judge){columns_known, column_holds_numbers, map};
}
