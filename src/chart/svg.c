#include "svg.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#define LABEL_MARK "<text>@"

/* Text of so many bytes for XML: markup escaped, control characters (which XML forbids) as a space. shown: to a reader, for
 * whom one sign reads better than two. */
static void add_escaped(struct rt_text *out, const char *string, size_t length, bool shown)
{
    const unsigned char *end = (const unsigned char *)string + length;
    for (const unsigned char *at = (const unsigned char *)string; at < end; at++) {
        const bool at_least = shown && at + 1 < end && at[0] == '>' && at[1] == '=';
        switch (*at) {
        case '&':
            rt_text_add(out, "&amp;");
            break;
        case '<':
            rt_text_add(out, "&lt;");
            break;
        case '>':
            rt_text_add(out, at_least ? "\xE2\x89\xA5" : "&gt;");
            at += at_least ? 1 : 0;
            break;
        case '"':
            rt_text_add(out, "&quot;");
            break;
        case '\'':
            rt_text_add(out, "&#39;");
            break;
        default:
            rt_text_add_character(out, *at < 0x20 || *at == 0x7f ? ' ' : (char)*at);
        }
    }
}

static void add_header(const struct drawing *drawing, const char *id, const char *title,
                       const char *description, struct rt_text *out)
{
    rt_text_format(out,
                   "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"%s-t %s-d\" "
                   "viewBox=\"0 0 %g %g\" width=\"%g\" height=\"%g\">\n<title id=\"%s-t\">",
                   id, id, drawing->width_px, drawing->height_px, drawing->width_px, drawing->height_px, id);
    add_escaped(out, title, strlen(title), true);
    rt_text_format(out, "</title>\n<desc id=\"%s-d\">", id);
    add_escaped(out, description, strlen(description), true);
    rt_text_add(out, "</desc>\n");
    /* The eight shapes gnuplot refers to by number (its point type less one), one unit = the point's radius.
     */
    rt_text_format(out,
                   "<defs>"
                   "<rect id=\"%s-p3\" x=\"-.9\" y=\"-.9\" width=\"1.8\" height=\"1.8\" stroke-width=\".34\" "
                   "fill=\"none\" "
                   "stroke=\"currentColor\"/>"
                   "<rect id=\"%s-p4\" x=\"-.9\" y=\"-.9\" width=\"1.8\" height=\"1.8\" "
                   "fill=\"currentColor\" stroke=\"none\"/>"
                   "<circle id=\"%s-p5\" r=\"1\" stroke-width=\".34\" fill=\"none\" stroke=\"currentColor\"/>"
                   "<circle id=\"%s-p6\" r=\"1\" fill=\"currentColor\" stroke=\"none\"/>",
                   id, id, id, id);
    rt_text_format(
        out,
        "<path id=\"%s-p7\" d=\"M0-1.25 1.15.75H-1.15z\" stroke-width=\".34\" fill=\"none\" "
        "stroke=\"currentColor\"/>"
        "<path id=\"%s-p8\" d=\"M0-1.25 1.15.75H-1.15z\" fill=\"currentColor\" stroke=\"none\"/>"
        "<path id=\"%s-p11\" d=\"M0-1.25 1.25 0 0 1.25-1.25 0z\" stroke-width=\".34\" fill=\"none\" "
        "stroke=\"currentColor\"/>"
        "<path id=\"%s-p12\" d=\"M0-1.25 1.25 0 0 1.25-1.25 0z\" fill=\"currentColor\" stroke=\"none\"/>"
        "</defs>\n",
        id, id, id, id);
}

static bool starts_with(const char *at, const char *prefix)
{
    return strncmp(at, prefix, strlen(prefix)) == 0;
}

/* What a part of a label is, as attributes: a name, a number of an axis, or the row and column that a number is of. */
static void add_attributes(struct rt_text *out, const struct label_part *part)
{
    struct rt_text key = {0};
    switch (part->kind) {
    case LABEL_WORDS:
        break;
    case LABEL_NAME:
        rt_text_add(out, " class=\"name\"");
        break;
    case LABEL_TICK:
        rt_text_add(out, " class=\"tick\"");
        break;
    case LABEL_FIGURE:
        rt_add_figure_key(&key, part->figure);
        out->failed = out->failed || key.failed;
        rt_text_add(out, " data-figure=\"");
        if (!key.failed)
            add_escaped(out, key.bytes, key.length, false);
        rt_text_format(out, "\" data-part=\"%s\"", part->column);
        break;
    }
    rt_text_release(&key);
}

/* A label of one part is one element; in others each part that is more than words has a tspan of its own. */
static void add_label(const struct drawing *drawing, const struct mark *mark, struct rt_text *out)
{
    const struct label_part *parts = drawing->parts + mark->first_part;
    const bool whole = mark->part_count == 1;
    const char *at = mark->text;
    rt_text_add(out, mark->label.strong ? "<text font-weight=\"600\"" : "<text");
    if (whole)
        add_attributes(out, &parts[0]);
    rt_text_add_character(out, '>');
    for (size_t i = 0; i < mark->part_count; i++) {
        const bool marked = !whole && parts[i].kind != LABEL_WORDS;
        if (marked) {
            rt_text_add(out, "<tspan");
            add_attributes(out, &parts[i]);
            rt_text_add_character(out, '>');
        }
        add_escaped(out, at, parts[i].length, true);
        if (marked)
            rt_text_add(out, "</tspan>");
        at += parts[i].length;
    }
}

/* `<text>@12@</text>` stands for the text of mark 12. at begins with LABEL_MARK. Returns the characters used up, 0 when no such
 * mark is meant. */
static size_t replace_label(const struct drawing *drawing, const char *at, struct rt_text *out)
{
    const char *digits = at + strlen(LABEL_MARK);
    char *end = NULL;
    unsigned long index = strtoul(digits, &end, 10);
    if (end == digits || *end != '@' || index >= drawing->mark_count ||
        drawing->marks[index].kind != MARK_LABEL)
        return 0;
    add_label(drawing, &drawing->marks[index], out);
    return (size_t)(end + 1 - at);
}

/* Copy one line of gnuplot's drawing, with ids, fonts and labels made ours. What stays is copied in runs: most of a drawing is
 * coordinates. */
static void copy_line(const struct drawing *drawing, const char *line, size_t length, const char *id,
                      struct rt_text *out)
{
    static const char font[] = " font-family=\"";
    static const char use[] = "xlink:href='#gpPt";
    const char *end = line + length, *run = line;
    for (const char *at = line; at < end;) {
        const char *next = at + 1;
        if (*at == '<' && starts_with(at, LABEL_MARK)) {
            rt_text_add_bytes(out, run, (size_t)(at - run));
            next = run = at + replace_label(drawing, at, out);
            next += next == at; /* it is no label of ours, and the run goes on from here */
        } else if (*at == ' ' && starts_with(at, font)) {
            rt_text_add_bytes(out, run, (size_t)(at - run));
            const char *name = at + sizeof font - 1, *quote = memchr(name, '"', (size_t)(end - name));
            next = run = quote == NULL ? end : quote + 1;
        } else if (*at == 'x' && starts_with(at, use)) {
            rt_text_add_bytes(out, run, (size_t)(at - run));
            rt_text_format(out, "href='#%s-p", id);
            next = run = at + sizeof use - 1;
        }
        at = next;
    }
    rt_text_add_bytes(out, run, (size_t)(end - run));
    rt_text_add_character(out, '\n');
}

/* gnuplot names each plot in a title that browsers show as a hint, and leaves empty groups behind. */
static bool is_noise(const char *line)
{
    return starts_with(line, "<title>") || starts_with(line, "<rect x=\"0\" y=\"0\"");
}

static const char *next_line(const char *line, size_t *length)
{
    const char *end = strchr(line, '\n');
    *length = end == NULL ? strlen(line) : (size_t)(end - line);
    return end == NULL ? line + *length : end + 1;
}

static void copy_body(const struct drawing *drawing, const char *body, const char *id, struct rt_text *out)
{
    size_t length = 0;
    for (const char *line = body; *line != '\0';) {
        const char *next = next_line(line, &length);
        while (length > 0 && isspace((unsigned char)*line)) {
            line++;
            length--;
        }
        bool opens_empty = starts_with(line, "<g fill=") && starts_with(next, "</g>\n");
        if (opens_empty) {
            next = next_line(next, &length);
        } else if (starts_with(line, "<g id=\"gnuplot_plot")) {
            const char *close = memchr(line, '>', length);
            rt_text_add(out, "<g>");
            size_t skip = close == NULL ? length : (size_t)(close + 1 - line);
            if (!starts_with(line + skip, "<title>"))
                copy_line(drawing, line + skip, length - skip, id, out);
        } else if (length > 0 && !is_noise(line)) {
            copy_line(drawing, line, length, id, out);
        }
        line = next;
    }
}

enum rt_status svg_for_page(const struct drawing *drawing, const char *raw, const char *id, const char *title,
                            const char *description, struct rt_text *page_svg, struct rt_error *error)
{
    const char *canvas = strstr(raw, "<g id=\"gnuplot_canvas\">");
    const char *body = canvas == NULL ? NULL : strstr(canvas, "</defs>");
    const char *end = body == NULL ? NULL : strstr(body, "</svg>");
    if (end == NULL) {
        rt_fail(error, RT_SYSTEM, "gnuplot wrote something that is not the SVG expected");
        rt_error_remedy(error, "install gnuplot 5.4 or later");
        return RT_SYSTEM;
    }
    add_header(drawing, id, title, description, page_svg);
    rt_text_add(page_svg, "<g>\n");
    copy_body(drawing, body + strlen("</defs>"), id, page_svg);
    return rt_text_status(page_svg, error);
}
