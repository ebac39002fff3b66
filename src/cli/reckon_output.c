#include "reckon_private.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <stdarg.h>
#include <string.h>

/* Output is handed on in pieces, so that a long curve does not fill the memory. */
enum { PIECE_BYTES = 8 << 20 };

void *rt_reckon_array(struct rt_reckon *r, size_t count, size_t size, struct rt_error *error)
{
    void *array = size != 0 && count > SIZE_MAX / size ? NULL : rt_arena_new(&r->arena, count * size + 1);
    if (array == NULL)
        rt_fail_memory(error);
    return array;
}

const char *rt_reckon_escape(struct rt_reckon *r, const char *text)
{
    if (strpbrk(text, "|=\\") == NULL) {
        const char *copy = rt_arena_copy(&r->arena, text);
        r->output.failed |= copy == NULL;
        return copy == NULL ? "" : copy;
    }
    char *escaped = rt_arena_new(&r->arena, 2 * strlen(text) + 1);
    if (escaped == NULL) {
        r->output.failed = true;
        return "";
    }
    char *to = escaped;
    for (const char *at = text; *at != '\0'; at++) {
        if (strchr("|=\\", *at) != NULL)
            *to++ = '\\';
        *to++ = *at;
    }
    return escaped;
}

static const char *join(struct rt_reckon *r, const char *a, const char *between, const char *b)
{
    size_t size = strlen(a) + strlen(between) + strlen(b) + 1;
    char *joined = rt_arena_new(&r->arena, size);
    if (joined == NULL) {
        r->output.failed = true;
        return "";
    }
    snprintf(joined, size, "%s%s%s", a, between, b);
    return joined;
}

const char *rt_reckon_join(struct rt_reckon *r, const char *a, const char *b)
{
    return join(r, a, "|", b);
}

const char *rt_reckon_term(struct rt_reckon *r, const char *category, const char *level)
{
    return join(r, rt_reckon_escape(r, category), "=", rt_reckon_escape(r, level));
}

void rt_reckon_remark(struct rt_reckon *r, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    char line[512];
    vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    rt_text_format(&r->notes->remarks, "ridgetally: %s: %s\n", r->file, line);
}

static void add_note(struct rt_reckon *r, const char *quantity, const char *group, double at,
                     const char *reason)
{
    struct rt_reckon_notes *all = r->notes;
    for (size_t i = all->count; i-- > 0;) {
        if (strcmp(all->notes[i].quantity, quantity) == 0 && strcmp(all->notes[i].reason, reason) == 0) {
            all->notes[i].count++;
            return;
        }
    }
    struct rt_reckon_note *notes = rt_grow_array(all->notes, &all->capacity, all->count + 1, sizeof *notes);
    if (notes == NULL) {
        all->failed = true;
        return;
    }
    all->notes = notes;
    notes[all->count++] = (struct rt_reckon_note){quantity, reason, group, at, 1};
}

static void flush_piece(struct rt_reckon *r)
{
    if (r->output.length < PIECE_BYTES || r->output.failed)
        return;
    if (rt_write_stream(stdout, r->output.bytes, r->output.length, NULL) == RT_OK)
        rt_text_clear(&r->output); /* a failed write is reported by the last one, which fails too */
}

void rt_reckon_row(struct rt_reckon *r, const char *quantity, const char *group, double at, double value,
                   const char *reason)
{
    group = group == NULL ? "" : group;
    double number = 0;
    rt_text_add_csv_cell(&r->output, quantity, false);
    rt_text_add_character(&r->output, ',');
    rt_text_add_csv_cell(&r->output, group,
                         !rt_parse_number(group, &number)); /* -1 is a number, -1+x a formula */
    rt_text_add_character(&r->output, ',');
    rt_text_add_number(&r->output, at);
    rt_text_add_character(&r->output, ',');
    rt_text_add_number(&r->output, value);
    rt_text_add_character(&r->output, '\n');
    if (!isfinite(value))
        add_note(r, quantity, group, at, reason != NULL ? reason : "not defined for these rows");
    flush_piece(r);
}

static const char *with_suffix(struct rt_reckon *r, const char *name, const char *suffix)
{
    return join(r, name, suffix, "");
}

void rt_reckon_interval(struct rt_reckon *r, const char *name, const char *group,
                        const struct rt_estimate *estimate)
{
    rt_reckon_row(r, name, group, NAN, estimate->value, estimate->reason);
    rt_reckon_row(r, with_suffix(r, name, "_lower"), group, NAN, estimate->lower, estimate->reason);
    rt_reckon_row(r, with_suffix(r, name, "_upper"), group, NAN, estimate->upper, estimate->reason);
}

static void print_notes(const struct rt_reckon *r)
{
    struct rt_text text = {0};
    if (r->notes->remarks.bytes != NULL)
        rt_text_add(&text, r->notes->remarks.bytes);
    for (size_t i = 0; i < r->notes->count; i++) {
        const struct rt_reckon_note *note = &r->notes->notes[i];
        rt_text_format(&text, "ridgetally: %s", note->quantity);
        if (note->count > 1)
            rt_text_format(&text, " (%zu rows, the first", note->count);
        else if (note->first_group[0] != '\0' || isfinite(note->first_at))
            rt_text_add(&text, " (");
        if (note->first_group[0] != '\0')
            rt_text_format(&text, "%s%.80s", note->count > 1 ? " " : "", note->first_group);
        if (isfinite(note->first_at))
            rt_text_format(&text, "%sat %.15g", note->count > 1 || note->first_group[0] != '\0' ? " " : "",
                           note->first_at);
        if (note->count > 1 || note->first_group[0] != '\0' || isfinite(note->first_at))
            rt_text_add(&text, ")");
        rt_text_format(&text, ": %s\n", note->reason);
    }
    for (char *at = text.bytes; at != NULL && *at != '\0'; at++)
        if ((*at > 0 && *at < 0x20 && *at != '\n') || *at == 0x7f)
            *at = '?'; /* names from a file must not steer a terminal */
    if (!text.failed && text.bytes != NULL)
        fputs(text.bytes, stderr);
    rt_text_release(&text);
}

enum rt_status rt_finish_output(struct rt_reckon *r, struct rt_error *error)
{
    if (r->output.failed || r->notes->failed || r->notes->remarks.failed)
        return rt_fail_memory(error);
    enum rt_status status = rt_write_stream(stdout, r->output.bytes, r->output.length, error);
    if (status == RT_OK)
        print_notes(r);
    return status;
}
