#include "ridgetally/output/slide_list.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* The usual ones, then those that only the presenter asks for. */
static const char *const names[] = {
    "title",        "question",    "method",   "follow-up", "depth-bias", "depth-within",
    "low-torque",   "crest-depth", "exposure", "survival",  "early",      "early-smoking",
    "early-torque", "early-line",  "limits",   "change",    "sources",    "crest-tissue",
};
enum { NAMES = sizeof names / sizeof names[0], USUAL = NAMES - 1 };

static enum rt_status add_slide(struct rt_slide_list *list, const struct rt_slide *slide,
                                struct rt_error *error)
{
    struct rt_slide *grown = rt_grow_array(list->slides, &list->capacity, list->count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    list->slides = grown;
    grown[list->count++] = *slide;
    return RT_OK;
}

enum rt_status rt_usual_slides(struct rt_slide_list *list, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < USUAL; i++)
        status = add_slide(list, &(struct rt_slide){.name = names[i], .title = "", .note = ""}, error);
    return status;
}

struct reading {
    struct rt_slide_list *list;
    const char *file;
    long line;
    struct rt_error *error;
};

static enum rt_status refuse(const struct reading *reading, const char *message, const char *remedy)
{
    rt_fail(reading->error, RT_INPUT, "%s", message);
    rt_error_locate(reading->error, reading->file, reading->line, NULL);
    rt_error_remedy(reading->error, "%s", remedy);
    return RT_INPUT;
}

static const char *keep(const struct reading *reading, const char *text, size_t length)
{
    char *copy = rt_arena_new(&reading->list->text, length + 1);
    if (copy == NULL)
        return NULL;
    memcpy(copy, text, length);
    copy[length] = '\0';
    return copy;
}

static const char *usual_name(const char *text, size_t length)
{
    for (size_t i = 0; i < NAMES; i++)
        if (strlen(names[i]) == length && memcmp(names[i], text, length) == 0)
            return names[i];
    return NULL;
}

static enum rt_status refuse_name(const struct reading *reading, const char *text, size_t length)
{
    struct rt_text list = {0}, message = {0};
    for (size_t i = 0; i < NAMES; i++)
        rt_text_format(&list, "%s%s", i == 0 ? "the slides are " : ", ", names[i]);
    rt_text_add(&list, "; a slide of your own begins `text: TITLE`");
    rt_text_add(&message, "there is no slide '");
    const char *copy = keep(reading, text, length < 80 ? length : 80);
    rt_text_add_plain(&message, copy);
    rt_text_add(&message, "'");
    enum rt_status status = list.failed || message.failed || copy == NULL
                                ? rt_fail_memory(reading->error)
                                : refuse(reading, message.bytes, list.bytes);
    rt_text_release(&list);
    rt_text_release(&message);
    return status;
}

static enum rt_status read_own(const struct reading *reading, const char *title, size_t length)
{
    struct rt_slide slide = {.name = "", .note = "", .line = reading->line};
    if (length == 0)
        return refuse(reading, "a slide of your own has no title", "write `text: TITLE`");
    if (length > RT_SLIDE_TITLE_BYTES)
        return refuse(reading, "the title does not fit on a slide", "shorten it");
    slide.title = keep(reading, title, length);
    return slide.title == NULL ? rt_fail_memory(reading->error)
                               : add_slide(reading->list, &slide, reading->error);
}

static enum rt_status read_name(const struct reading *reading, const char *text, size_t length)
{
    const char *name = usual_name(text, length);
    if (name == NULL)
        return refuse_name(reading, text, length);
    for (size_t i = 0; i < reading->list->count; i++)
        if (strcmp(reading->list->slides[i].name, name) == 0)
            return refuse(reading, "this slide stands in the list already", "leave one of the two out");
    const struct rt_slide slide = {.name = name, .title = "", .note = "", .line = reading->line};
    return add_slide(reading->list, &slide, reading->error);
}

static enum rt_status read_own_line(const struct reading *reading, const char *text, size_t length)
{
    size_t count = reading->list->count;
    struct rt_slide *slide = count > 0 ? &reading->list->slides[count - 1] : NULL;
    if (slide == NULL || slide->name[0] != '\0')
        return refuse(reading, "an indented line stands below no slide of your own",
                      "begin the slide with `text: TITLE`");
    if (length > RT_SLIDE_LINE_BYTES)
        return refuse(reading, "the line does not fit on a slide", "shorten it, or make two slides");
    const char *copy = keep(reading, text, length);
    if (copy == NULL)
        return rt_fail_memory(reading->error);
    if (strncmp(copy, "note:", 5) == 0) {
        slide->note = copy + 5 + strspn(copy + 5, " \t");
        return RT_OK;
    }
    if (slide->line_count == RT_SLIDE_LINES)
        return refuse(reading, "there are more lines than fit on a slide", "make two slides");
    slide->lines[slide->line_count++] = copy;
    return RT_OK;
}

/* Is this well-formed UTF-8 without control characters but tab? */
static bool is_text(const char *text, size_t length)
{
    const unsigned char *at = (const unsigned char *)text, *end = at + length;
    while (at < end) {
        unsigned first = *at++;
        int more = first < 0x80                    ? 0
                   : first >= 0xc2 && first < 0xe0 ? 1
                   : first >= 0xe0 && first < 0xf0 ? 2
                   : first >= 0xf0 && first < 0xf5 ? 3
                                                   : -1;
        if (more < 0 || (first < 0x20 && first != '\t') || first == 0x7f)
            return false;
        for (; more > 0; more--)
            if (at == end || (*at++ & 0xc0) != 0x80)
                return false;
    }
    return true;
}

static enum rt_status read_line(const struct reading *reading, const char *text, size_t length)
{
    bool indented = length > 0 && (text[0] == ' ' || text[0] == '\t');
    if (!is_text(text, length))
        return refuse(reading, "the line is not plain UTF-8 text", "save the file as UTF-8 text");
    while (length > 0 && strchr(" \t", text[length - 1]) != NULL)
        length--;
    while (length > 0 && strchr(" \t", text[0]) != NULL) {
        text++;
        length--;
    }
    if (length == 0 || text[0] == '#')
        return RT_OK;
    if (indented)
        return read_own_line(reading, text, length);
    if (reading->list->count == RT_SLIDES_MOST)
        return refuse(reading, "there are too many slides", "make two decks");
    if (length < 5 || memcmp(text, "text:", 5) != 0)
        return read_name(reading, text, length);
    size_t skip = 5;
    while (skip < length && strchr(" \t", text[skip]) != NULL)
        skip++;
    return read_own(reading, text + skip, length - skip);
}

enum rt_status rt_read_slides(const char *text, const char *file, struct rt_slide_list *list,
                              struct rt_error *error)
{
    struct reading reading = {list, file, 0, error};
    enum rt_status status = RT_OK;
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
        text += 3;
    while (status == RT_OK && *text != '\0') {
        size_t length = strcspn(text, "\n");
        size_t bare = length > 0 && text[length - 1] == '\r' ? length - 1 : length;
        reading.line++;
        status = read_line(&reading, text, bare);
        text += length + (text[length] == '\n');
    }
    if (status == RT_OK && list->count == 0)
        status = refuse(&reading, "the list names no slide", "write one slide a line");
    return status;
}

void rt_release_slides(struct rt_slide_list *list)
{
    free(list->slides);
    rt_arena_release(&list->text);
    *list = (struct rt_slide_list){0};
}
