#include "ridgetally/cli/fit.h"

#include "ridgetally/base/file.h"
#include "ridgetally/cli/progress.h"

#include <stdbool.h>
#include <string.h>
#include <unistd.h>

enum {
    NARROWEST = 20,
    WHOLE_PIECE = 44, /* a piece in backticks or brackets up to this many bytes is not broken */
    DEEPER = 4,       /* how far the rest of a line without columns stands in */
    FULL_LINE =
        70,   /* a line of help from this many columns up ended because it was full: its paragraph goes on */
    USAGE = 7 /* columns of "Usage: " */
};

enum kind { LIST, COLUMNS, HELP };

/* One line of a text, without its end. */
struct line {
    const char *bytes;
    size_t length;
};

int rt_output_width(void)
{
    int width = rt_terminal_width(STDOUT_FILENO) - 1;
    return width < 0 ? 0 : width < NARROWEST ? NARROWEST : width;
}

static size_t columns_of_bytes(const char *bytes, size_t length)
{
    size_t columns = 0;
    for (size_t i = 0; i < length; i++)
        columns += ((unsigned char)bytes[i] & 0xc0) != 0x80; /* bytes that continue no character */
    return columns;
}

size_t rt_columns_of(const char *text)
{
    return text == NULL ? 0 : columns_of_bytes(text, strlen(text));
}

static size_t spaces_at(const char *bytes, size_t length)
{
    size_t count = 0;
    while (count < length && bytes[count] == ' ')
        count++;
    return count;
}

/* Bytes of the piece in backticks or brackets (which may hold others) that begins here; 0 when none does, or it does not end. */
static size_t piece_at(const char *bytes, size_t length)
{
    size_t open = 0;
    if (length == 0 || (bytes[0] != '`' && bytes[0] != '['))
        return 0;
    for (size_t i = 0; i < length; i++) {
        open += bytes[0] == '[' && bytes[i] == '[';
        open -= bytes[0] == '[' && bytes[i] == ']';
        if (i > 0 && (bytes[0] == '[' ? open == 0 : bytes[i] == '`'))
            return i + 1;
    }
    return 0;
}

/* Bytes of the word that begins here; a piece in backticks or brackets of at most so many bytes is one word. */
static size_t word_at(const char *bytes, size_t length, size_t most)
{
    size_t whole = piece_at(bytes, length < most ? length : most), count = 0;
    while (whole > 0 && whole < length && bytes[whole] != ' ')
        whole++; /* what stands at its end without a space */
    while (count < length && bytes[count] != ' ')
        count++;
    return whole > count && whole <= most ? whole : count;
}

static void add_spaces(struct rt_text *text, size_t count)
{
    for (size_t i = 0; i < count; i++)
        rt_text_add_character(text, ' ');
}

/* The same as rt_add_broken, on a line of which some columns are used already. */
static void add_broken_from(struct rt_text *text, const struct line *line, size_t column, size_t width,
                            size_t hang)
{
    size_t room = width > hang ? width - hang : 0;
    size_t piece = room < WHOLE_PIECE ? room : WHOLE_PIECE;
    bool begun = false; /* the line that is being written has a word */
    for (size_t at = 0; at < line->length;) {
        size_t spaces = spaces_at(line->bytes + at, line->length - at);
        if (at + spaces == line->length)
            break; /* spaces at the end are not seen */
        const char *begin = line->bytes + at + spaces;
        size_t word = word_at(begin, line->length - at - spaces, piece);
        size_t columns = columns_of_bytes(begin, word);
        if (begun && column + spaces + columns > width) {
            rt_text_add(text, "\n");
            add_spaces(text, hang);
            column = hang;
        } else {
            add_spaces(text, spaces);
            column += spaces;
        }
        rt_text_add_bytes(text, begin, word);
        column += columns;
        at += spaces + word;
        begun = true;
    }
    rt_text_add(text, "\n");
}

void rt_add_broken(struct rt_text *text, const char *line, size_t length, int width, int hang)
{
    const struct line whole = {line, length};
    add_broken_from(text, &whole, 0, (size_t)width, (size_t)hang);
}

/* The column in which the second column of a line begins; 0 when it has one only. */
static size_t second_column(const struct line *line)
{
    size_t at = spaces_at(line->bytes, line->length);
    while (at < line->length) {
        size_t spaces = spaces_at(line->bytes + at, line->length - at);
        if (spaces >= 2 && at + spaces < line->length)
            return columns_of_bytes(line->bytes, at + spaces);
        at += spaces == 0 ? 1 : spaces;
    }
    return 0;
}

static bool has_at(const struct line *line, size_t at, const char *words)
{
    return line->length >= at + strlen(words) && memcmp(line->bytes + at, words, strlen(words)) == 0;
}

/* Where the options of a line of usage begin, after "ridgetally VERB "; 0 when it is no such line. */
static size_t usage_column(const struct line *line)
{
    bool usage = has_at(line, 0, "Usage: ") || spaces_at(line->bytes, line->length) == USAGE;
    if (!usage || !has_at(line, USAGE, "ridgetally "))
        return 0;
    size_t at = USAGE + strlen("ridgetally ");
    while (at < line->length && line->bytes[at] != ' ')
        at++;
    return at < line->length ? at + 1 : 0;
}

/* The column in which the rest of a line stands. In help, plain text has no indent. */
static size_t hang_of(const struct line *line, size_t width, enum kind kind)
{
    size_t indent = spaces_at(line->bytes, line->length);
    size_t usage = kind == HELP ? usage_column(line) : 0;
    size_t second = kind == LIST ? 0 : second_column(line);
    if (usage > 0)
        return usage <= width / 3 ? usage : USAGE + DEEPER;
    if (second > 0 && second <= width / 2)
        return second;
    return kind == HELP && indent == 0 ? 0 : indent + DEEPER;
}

/* Bytes of a line up to the gap before its second column, where that begins too far right to go on below it. */
static size_t first_part(const struct line *line, size_t width, enum kind kind)
{
    bool fits = columns_of_bytes(line->bytes, line->length) <= width;
    if (kind == LIST || fits || second_column(line) <= width / 2 || usage_column(line) > 0)
        return line->length;
    size_t at = spaces_at(line->bytes, line->length);
    while (spaces_at(line->bytes + at, line->length - at) < 2)
        at++;
    return at;
}

static void add_line(struct rt_text *text, const struct line *line, size_t width, enum kind kind)
{
    size_t hang = hang_of(line, width, kind);
    const struct line first = {line->bytes, first_part(line, width, kind)};
    add_broken_from(text, &first, 0, width, hang);
    if (first.length == line->length)
        return;
    size_t at = first.length + spaces_at(line->bytes + first.length, line->length - first.length);
    const struct line second = {line->bytes + at, line->length - at};
    add_spaces(text, hang);
    add_broken_from(text, &second, hang, width, hang);
}

/* The next line of a text; false at its end. */
static bool next_line(const struct rt_text *text, size_t *at, struct line *line)
{
    if (*at >= text->length)
        return false;
    const char *begin = text->bytes + *at;
    const char *end = memchr(begin, '\n', text->length - *at);
    line->bytes = begin;
    line->length = end == NULL ? text->length - *at : (size_t)(end - begin);
    *at += line->length + 1;
    return true;
}

static void take_over(struct rt_text *text, struct rt_text *fitted)
{
    fitted->failed = fitted->failed || text->failed;
    rt_text_release(text);
    *text = *fitted;
}

static void fit_each(struct rt_text *text, enum kind kind)
{
    struct rt_text fitted = {0};
    struct line line;
    int width = rt_output_width();
    if (width == 0 || text->length == 0)
        return;
    for (size_t at = 0; next_line(text, &at, &line);)
        add_line(&fitted, &line, (size_t)width, kind);
    take_over(text, &fitted);
}

void rt_fit_lines(struct rt_text *text)
{
    fit_each(text, LIST);
}

void rt_fit_columns(struct rt_text *text)
{
    fit_each(text, COLUMNS);
}

/* Whether a line of help goes on with what the gathered one says, whose last line is last. */
static bool goes_on(const struct line *gathered, const struct line *last, const struct line *line)
{
    if (gathered->length == 0 || line->length == 0)
        return false;
    size_t indent = spaces_at(line->bytes, line->length);
    size_t usage = usage_column(gathered);
    if (usage > 0 && indent == USAGE && line->bytes[indent] == '[')
        return true;
    if (indent > 0)
        return indent == (usage > 0 ? usage : second_column(gathered));
    return usage == 0 && spaces_at(gathered->bytes, gathered->length) == 0 &&
           last->bytes[last->length - 1] != ':' && columns_of_bytes(last->bytes, last->length) >= FULL_LINE;
}

void rt_fit_help(struct rt_text *text)
{
    struct rt_text fitted = {0}, gathered = {0};
    struct line line, last = {NULL, 0};
    int width = rt_output_width();
    if (width == 0 || text->length == 0)
        return;
    for (size_t at = 0; next_line(text, &at, &line); last = line) {
        const struct line before = {gathered.bytes, gathered.length};
        if (goes_on(&before, &last, &line)) {
            size_t indent = spaces_at(line.bytes, line.length);
            rt_text_add(&gathered, " ");
            rt_text_add_bytes(&gathered, line.bytes + indent, line.length - indent);
            continue;
        }
        if (last.bytes != NULL)
            add_line(&fitted, &before, (size_t)width, HELP);
        fitted.failed = fitted.failed || gathered.failed;
        rt_text_clear(&gathered);
        rt_text_add_bytes(&gathered, line.bytes, line.length);
    }
    const struct line end = {gathered.bytes, gathered.length};
    add_line(&fitted, &end, (size_t)width, HELP);
    fitted.failed = fitted.failed || gathered.failed;
    rt_text_release(&gathered);
    take_over(text, &fitted);
}

enum rt_status rt_print_help(struct rt_text *text, struct rt_error *error)
{
    rt_fit_help(text);
    enum rt_status status = rt_text_status(text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text->bytes, text->length, error);
    rt_text_release(text);
    return status;
}
