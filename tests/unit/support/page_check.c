#include "page_check.h"

#include "figure_sheet.h"
#include "page_words.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { DEPTH = 64, NAMES = 4096 };

/* --- the page ------------------------------------------------------------------------------------------ */
struct tag {
    char name[32];
    bool closing, empty;
    char *attributes[16][2];
    size_t count;
};

/* Which digits may stand in the text of an element. */
enum matter {
    MATTER_PLAIN,  /* none */
    MATTER_HEAD,   /* those of page_words_stray */
    MATTER_FOOTER, /* those of page_words_stray_in_footer */
    MATTER_FREE,   /* any: cited text, definitions, the practice's own words */
    MATTER_BOUND,  /* words from the records: those of is_bound */
    MATTER_NAME,   /* in a drawing: those of a level */
    MATTER_TICK,   /* in a drawing: a number of an axis */
    MATTER_FIGURE, /* the number of a row */
};

struct element {
    char name[32];
    enum matter matter;
    bool in_drawing;
};

struct walk {
    struct page_report *report;
    struct figure_sheet sheet;
    struct page_words words;
    struct element stack[DEPTH];
    size_t depth;
    char *ids[NAMES], *links[NAMES];
    size_t id_count, link_count;
    int heading;
    bool named_row;                /* within a row whose head is the practice's own words */
    size_t slides;                 /* begun so far */
    const char *page;              /* all of it */
    const char *cited;             /* where the cited chapters begin in the page; NULL: there are none */
    char *key, *part, *raw, *form; /* of the figure element that is open */
};

__attribute__((format(printf, 2, 3))) static void fault(struct walk *walk, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    walk->report->faults++;
    vfprintf(walk->report->stream, format, arguments);
    fputc('\n', walk->report->stream);
    va_end(arguments);
}

static void decode_references(char *text)
{
    static const struct {
        const char *reference;
        char character;
    } known[] = {{"&amp;", '&'},  {"&lt;", '<'},   {"&gt;", '>'},
                 {"&quot;", '"'}, {"&#39;", '\''}, {"&#96;", '`'}};
    char *out = text;
    while (*text != '\0') {
        size_t i = 0, length = 0;
        for (; *text == '&' && i < sizeof known / sizeof known[0]; i++)
            if ((length = strlen(known[i].reference)) && strncmp(text, known[i].reference, length) == 0)
                break;
        if (*text == '&' && i < sizeof known / sizeof known[0]) {
            *out++ = known[i].character;
            text += length;
        } else {
            *out++ = *text++;
        }
    }
    *out = '\0';
}

static char *slice(const char *from, const char *to)
{
    char *text = strndup(from, (size_t)(to - from));
    decode_references(text);
    return text;
}

static const char *attribute(const struct tag *tag, const char *name)
{
    for (size_t i = 0; i < tag->count; i++)
        if (strcmp(tag->attributes[i][0], name) == 0)
            return tag->attributes[i][1];
    return NULL;
}

/* at: behind the `<`; returns behind the `>`, or NULL when the tag does not end. */
static const char *read_tag(const char *at, struct tag *tag)
{
    *tag = (struct tag){.closing = *at == '/'};
    at += tag->closing;
    size_t length = strcspn(at, " \t\r\n/>");
    snprintf(tag->name, sizeof tag->name, "%.*s", (int)length, at);
    at += length;
    for (;;) {
        at += strspn(at, " \t\r\n");
        if (*at == '\0')
            return NULL;
        if (*at == '>')
            return at + 1;
        if (*at == '/') {
            tag->empty = true;
            at++;
            continue;
        }
        const char *name = at;
        at += strcspn(at, " \t\r\n=/>");
        const char *name_end = at, *value = "", *value_end = value;
        at += strspn(at, " \t\r\n");
        if (*at == '=') {
            at += 1 + strspn(at + 1, " \t\r\n");
            char quote = *at;
            if (quote != '"' && quote != '\'')
                return NULL;
            value = at + 1;
            value_end = strchr(value, quote);
            if (value_end == NULL)
                return NULL;
            at = value_end + 1;
        }
        if (tag->count < 16) {
            tag->attributes[tag->count][0] = slice(name, name_end);
            tag->attributes[tag->count++][1] = slice(value, value_end);
        }
    }
}

static void release_tag(struct tag *tag)
{
    for (size_t i = 0; i < tag->count; i++) {
        free(tag->attributes[i][0]);
        free(tag->attributes[i][1]);
    }
}

static bool one_of(const char *name, const char *const *names)
{
    for (; *names != NULL; names++)
        if (strcmp(name, *names) == 0)
            return true;
    return false;
}

static bool is_class(const struct tag *tag, const char *name)
{
    const char *class_name = attribute(tag, "class");
    return class_name != NULL && strcmp(class_name, name) == 0;
}

/* What may stand in the element, given what may stand around it. Numbers of figures are checked wherever they are. */
static enum matter matter_of(const struct tag *tag, enum matter around, bool in_drawing)
{
    static const char *const heads[] = {"title", "h1",      "h2",         "h3",  "th", "dt",
                                        "nav",   "caption", "figcaption", "svg", NULL};
    static const char *const free_classes[] = {"definition", "practice", "filters", NULL};
    const char *class_name = attribute(tag, "class");
    const bool figure = strcmp(tag->name, "data") == 0 && is_class(tag, "figure");
    if (figure || (in_drawing && attribute(tag, "data-figure") != NULL))
        return MATTER_FIGURE;
    if (in_drawing)
        return is_class(tag, "tick") ? MATTER_TICK : is_class(tag, "name") ? MATTER_NAME : MATTER_HEAD;
    if (strcmp(tag->name, "svg") != 0 && (around == MATTER_FREE || attribute(tag, "data-cited") != NULL ||
                                          (class_name != NULL && one_of(class_name, free_classes))))
        return MATTER_FREE;
    if (is_class(tag, "name"))
        return strcmp(tag->name, "th") == 0 ? MATTER_FREE : MATTER_BOUND;
    if (strcmp(tag->name, "footer") == 0)
        return MATTER_FOOTER;
    return one_of(tag->name, heads) || is_class(tag, "masthead") ? MATTER_HEAD : around;
}

static void note_ids(struct walk *walk, const struct tag *tag)
{
    const char *id = attribute(tag, "id");
    const char *link = attribute(tag, "href");
    for (size_t i = 0; id != NULL && i < walk->id_count; i++)
        if (strcmp(id, walk->ids[i]) == 0)
            fault(walk, "id %s is given twice", id);
    if (id != NULL && walk->id_count < NAMES)
        walk->ids[walk->id_count++] = strdup(id);
    if (link != NULL && link[0] == '#' && link[1] != '\0' && walk->link_count < NAMES)
        walk->links[walk->link_count++] = strdup(link + 1);
    else if (link != NULL && link[0] != '#')
        fault(walk, "a link leaves the page: %s", link);
}

static void note_heading(struct walk *walk, const struct tag *tag)
{
    if (tag->name[0] != 'h' || !isdigit((unsigned char)tag->name[1]) || tag->name[2] != '\0')
        return;
    int level = tag->name[1] - '0';
    if (level > walk->heading + 1)
        fault(walk, "a heading of level %d follows one of level %d", level, walk->heading);
    walk->heading = level;
}

static void set(char **member, const char *text)
{
    free(*member);
    *member = text == NULL ? NULL : strdup(text);
}

static void open_element(struct walk *walk, const struct tag *tag)
{
    static const char *const void_elements[] = {"meta", "input", "br", "hr", "link", "img", NULL};
    note_ids(walk, tag);
    note_heading(walk, tag);
    const struct element *around = walk->depth > 0 ? &walk->stack[walk->depth - 1] : NULL;
    const bool in_drawing = around != NULL && around->in_drawing;
    const enum matter matter = matter_of(tag, around == NULL ? MATTER_PLAIN : around->matter, in_drawing);
    if (around != NULL && around->matter == MATTER_FIGURE)
        fault(walk, "<%s> stands within a figure", tag->name);
    if (matter == MATTER_FIGURE) {
        set(&walk->key, attribute(tag, "data-figure"));
        set(&walk->part, attribute(tag, "data-part"));
        set(&walk->raw, attribute(tag, "value"));
        set(&walk->form, attribute(tag, "data-form"));
        if (walk->key == NULL || walk->part == NULL || (walk->raw == NULL && !in_drawing))
            fault(walk, "a figure without its key, part or value");
    }
    if (tag->empty || one_of(tag->name, void_elements))
        return;
    if (walk->depth == DEPTH) {
        fault(walk, "elements nest too deep");
        return;
    }
    struct element *element = &walk->stack[walk->depth++];
    snprintf(element->name, sizeof element->name, "%s", tag->name);
    element->matter = matter;
    walk->slides += is_class(tag, "slide") ? 1 : 0;
    if (strcmp(tag->name, "tr") == 0)
        walk->named_row = false;
    else if (strcmp(tag->name, "th") == 0 && is_class(tag, "name"))
        walk->named_row = true;
    element->in_drawing = in_drawing || strcmp(tag->name, "svg") == 0;
}

static void close_element(struct walk *walk, const struct tag *tag)
{
    if (walk->depth == 0 || strcmp(walk->stack[walk->depth - 1].name, tag->name) != 0)
        fault(walk, "</%s> closes <%s>", tag->name,
              walk->depth == 0 ? "" : walk->stack[walk->depth - 1].name);
    if (walk->depth > 0)
        walk->depth--;
    walk->named_row = walk->named_row && strcmp(tag->name, "tr") != 0;
}

/* --- one number ---------------------------------------------------------------------------------------- */
static bool agrees(const char *shown, double value, bool size, bool points)
{
    char digits[64] = "";
    size_t length = 0;
    bool percent = points;
    char limit = '\0';
    for (const char *at = shown; *at != '\0' && length + 1 < sizeof digits; at++) {
        if (strncmp(at, "\u2212", strlen("\u2212")) == 0) {
            digits[length++] = '-';
            at += strlen("\u2212") - 1;
        } else if (*at == '%') {
            percent = true;
        } else if (*at == '<' || *at == '>') {
            limit = *at;
        } else {
            digits[length++] = *at;
        }
    }
    char *end = NULL;
    double number = strtod(digits, &end);
    if (length == 0 || *end != '\0')
        return false;
    double wanted = (size ? fabs(value) : value) * (percent ? 100.0 : 1.0);
    if (limit != '\0')
        return limit == '<' ? wanted < number : wanted > number;
    const char *point = strchr(digits, '.');
    double half = 0.5 * pow(10.0, point == NULL ? 0.0 : -(double)strlen(point + 1));
    return fabs(number - wanted) <= half * (1.0 + 1e-9);
}

static void check_number(struct walk *walk, const char *shown)
{
    char **row = NULL;
    walk->report->numbers++;
    size_t found = sheet_find(&walk->sheet, walk->key, &row);
    if (found != 1) {
        fault(walk, "%zu figure rows for %s", found, walk->key);
        return;
    }
    size_t part = sheet_column(&walk->sheet, walk->part);
    if (part == SHEET_CELLS || (walk->raw != NULL && strcmp(row[part], walk->raw) != 0)) {
        fault(walk, "%s: %s is %s in the page, %s in the figures", walk->key, walk->part,
              walk->raw == NULL ? "shown" : walk->raw, part == SHEET_CELLS ? "no column" : row[part]);
        return;
    }
    bool size = walk->form != NULL && strncmp(walk->form, "size", strlen("size")) == 0;
    bool points = walk->form != NULL && strstr(walk->form, "points") != NULL;
    if (row[part][0] == '\0' || !agrees(shown, strtod(row[part], NULL), size, points))
        fault(walk, "%s: %s shown as %s for %s", walk->key, walk->part, shown,
              row[part][0] == '\0' ? "an empty cell" : row[part]);
}

/* The text before `from`, a tag between them, ends with the words. */
static bool stands_behind(const struct walk *walk, const char *from, const char *words)
{
    const char *tag = from;
    const size_t length = strlen(words);
    while (tag > walk->page && *tag != '<')
        tag--;
    return (size_t)(tag - walk->page) >= length && memcmp(tag - length, words, length) == 0;
}

/* Words from the records: the remark of a row, a description that the cited chapters give, what may stand in headings, the recall
 * interval, which is a setting of the practice, or the number of the slide. from to to: the same in the page, where the cited
 * chapters are escaped like it. */
static bool is_bound(const struct walk *walk, const char *text, const char *from, const char *to)
{
    const size_t remark = sheet_column(&walk->sheet, "remark");
    char slide[40];
    for (size_t r = 1; r < walk->sheet.rows; r++)
        if (strcmp(sheet_plain(walk->sheet.cells[r * SHEET_CELLS + remark]), text) == 0)
            return true;
    if (walk->cited != NULL && strchr(text, ' ') != NULL &&
        memmem(walk->cited, strlen(walk->cited), from, (size_t)(to - from)) != NULL)
        return true;
    snprintf(slide, sizeof slide, "Slide %zu.", walk->slides);
    if (strcmp(text, slide) == 0)
        return true;
    if (text[strspn(text, "0123456789")] == '\0' && (stands_behind(walk, from, "the recall interval, ") ||
                                                     stands_behind(walk, from, "the recall interval of ")))
        return true;
    return page_words_stray(&walk->words, text) == NULL;
}

static void check_text(struct walk *walk, const char *from, const char *to)
{
    char *text = slice(from, to);
    const struct element *within = walk->depth > 0 ? &walk->stack[walk->depth - 1] : NULL;
    const char *stray = text + strcspn(text, "0123456789");
    stray = *stray == '\0' ? NULL : stray;
    switch (within == NULL ? MATTER_PLAIN : within->matter) {
    case MATTER_PLAIN:
        break;
    case MATTER_HEAD:
        stray = page_words_stray(&walk->words, text);
        break;
    case MATTER_FOOTER:
        stray = page_words_stray_in_footer(text);
        break;
    case MATTER_FREE:
        stray = NULL;
        break;
    case MATTER_BOUND:
        stray = stray == NULL || walk->named_row || is_bound(walk, text, from, to) ? NULL : stray;
        break;
    case MATTER_NAME:
        stray = page_words_is_name(&walk->words, text) ? NULL : stray;
        break;
    case MATTER_TICK:
        stray = page_words_is_tick(text) ? NULL : text;
        break;
    case MATTER_FIGURE:
        stray = NULL;
        if (walk->key != NULL && walk->part != NULL)
            check_number(walk, text);
        break;
    }
    if (stray != NULL)
        fault(walk, "a number that is no figure: %.120s (in <%s>: %.160s)", stray,
              within == NULL ? "" : within->name, text);
    free(text);
}

static const char *skip_raw_text(const char *at, const char *name)
{
    char end[40];
    snprintf(end, sizeof end, "</%s", name);
    const char *close = strstr(at, end);
    return close == NULL ? at + strlen(at) : close;
}

static void check_links(struct walk *walk)
{
    for (size_t i = 0; i < walk->link_count; i++) {
        size_t j = 0;
        while (j < walk->id_count && strcmp(walk->links[i], walk->ids[j]) != 0)
            j++;
        if (j == walk->id_count)
            fault(walk, "a link to #%s, which is nowhere", walk->links[i]);
    }
}

void check_page(const char *page, const char *figures, struct page_report *report)
{
    struct walk walk = {.report = report, .sheet = read_figure_sheet(figures)};
    if (walk.sheet.rows < 1)
        fault(&walk, "the figures file has rows of the wrong length");
    const size_t level = sheet_column(&walk.sheet, "level"), time = sheet_column(&walk.sheet, "at");
    for (size_t r = 1; r < walk.sheet.rows; r++) {
        char **cells = walk.sheet.cells + r * SHEET_CELLS;
        page_words_add(&walk.words, sheet_plain(cells[level]),
                       cells[time][0] == '\0' ? NAN : strtod(cells[time], NULL));
    }
    walk.page = page;
    walk.cited = strstr(page, " data-cited>");
    const char *at = page;
    while (walk.sheet.rows > 0 && *at != '\0') {
        const char *less = at + strcspn(at, "<");
        if (less > at)
            check_text(&walk, at, less);
        if (*less == '\0')
            break;
        if (less[1] == '!') {
            at = less + strcspn(less, ">") + 1;
            continue;
        }
        struct tag tag;
        at = read_tag(less + 1, &tag);
        if (at == NULL) {
            fault(&walk, "a tag that does not end: %.60s", less);
            release_tag(&tag);
            break;
        }
        if (tag.closing)
            close_element(&walk, &tag);
        else
            open_element(&walk, &tag);
        if (!tag.closing && (strcmp(tag.name, "style") == 0 || strcmp(tag.name, "script") == 0))
            at = skip_raw_text(at, tag.name);
        if (strcmp(tag.name, "script") == 0)
            fault(&walk, "a script");
        release_tag(&tag);
    }
    if (walk.depth > 0)
        fault(&walk, "<%s> is never closed", walk.stack[walk.depth - 1].name);
    check_links(&walk);
    for (size_t i = 0; i < walk.id_count; i++)
        free(walk.ids[i]);
    for (size_t i = 0; i < walk.link_count; i++)
        free(walk.links[i]);
    set(&walk.key, NULL);
    set(&walk.part, NULL);
    set(&walk.raw, NULL);
    set(&walk.form, NULL);
    page_words_release(&walk.words);
    release_figure_sheet(&walk.sheet);
}
