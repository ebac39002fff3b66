/* A patient's label in a column map that the store keeps. */
#include "loader.h"

#include "ridgetally/intake/forget.h"

#include <string.h>

static void add_word(struct rt_text *out, const char *word)
{
    rt_text_add_character(out, '"');
    for (; *word != '\0'; word++) {
        if (*word == '"')
            rt_text_add_character(out, '"');
        rt_text_add_character(out, *word);
    }
    rt_text_add_character(out, '"');
}

static bool names(const struct rt_map_line *line, size_t code, const char *label)
{
    return strcmp(line->from[code], label) == 0 || strcmp(line->to[code], label) == 0;
}

/* The statement that gives the patient, without the label; false when it does not hold it. A constant becomes `ask`: the map
 * was for this patient alone, and loads nothing any more. */
static bool strike_statement(const struct rt_map_line *line, const char *label, struct rt_text *out)
{
    bool found = line->constant != NULL && strcmp(line->constant, label) == 0;
    for (size_t i = 0; i < line->codes; i++)
        found = found || names(line, i, label);
    if (!found)
        return false;
    if (line->constant != NULL) {
        rt_text_add(out, "constant patient ask");
        return true;
    }
    rt_text_add(out, "column ");
    add_word(out, line->header);
    rt_text_add(out, " -> patient");
    bool first = true;
    for (size_t i = 0; i < line->codes; i++) {
        if (names(line, i, label))
            continue;
        rt_text_add(out, first ? " codes " : ", ");
        add_word(out, line->from[i]);
        rt_text_add(out, " = ");
        add_word(out, line->to[i][0] == '\0' ? "empty" : line->to[i]);
        first = false;
    }
    return true;
}

static enum rt_status strike_line(const char *text, const char *label, struct rt_text *out, bool *found,
                                  struct rt_error *error)
{
    struct rt_map map = {.count = 0};
    struct rt_error unused = {0}; /* one line is no whole map */
    struct rt_text alone = {0};
    rt_text_format(&alone, "ridgetally map 1\n");
    rt_text_add(&alone, text);
    enum rt_status status = rt_text_status(&alone, error);
    if (status == RT_OK && rt_parse_map("", alone.bytes, alone.length, &map, &unused) == RT_MEMORY)
        status = rt_fail_memory(error);
    bool patient = status == RT_OK && map.count == 1 && map.lines[0].field != NULL &&
                   strcmp(map.lines[0].field->name, "patient") == 0;
    bool struck = patient && strike_statement(&map.lines[0], label, out);
    if (status == RT_OK && !struck)
        rt_strike_label(text, label, true, out, &struck);
    *found = *found || struck;
    rt_text_release(&alone);
    rt_release_map(&map);
    return status;
}

enum rt_status strike_map(const char *text, const char *label, struct rt_text *out, bool *found,
                          struct rt_error *error)
{
    enum rt_status status = RT_OK;
    *found = false;
    while (status == RT_OK && *text != '\0') {
        size_t length = strcspn(text, "\n");
        struct rt_text line = {0};
        rt_text_add(&line, "");
        rt_text_add_bytes(&line, text, length);
        status = rt_text_status(&line, error);
        if (status == RT_OK)
            status = strike_line(line.bytes, label, out, found, error);
        text += length;
        if (*text == '\n') {
            rt_text_add_character(out, '\n');
            text++;
        }
        rt_text_release(&line);
    }
    return status == RT_OK ? rt_text_status(out, error) : status;
}
