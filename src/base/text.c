#include "ridgetally/base/text.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

static bool make_room(struct rt_text *text, size_t extra)
{
    if (text->failed)
        return false;
    if (extra > SIZE_MAX - text->length - 1) {
        text->failed = true;
        return false;
    }
    char *bytes = rt_grow_array(text->bytes, &text->capacity, text->length + extra + 1, 1);
    if (bytes == NULL) {
        text->failed = true;
        return false;
    }
    text->bytes = bytes;
    return true;
}

void rt_text_add_bytes(struct rt_text *text, const char *bytes, size_t length)
{
    if (!make_room(text, length))
        return;
    memcpy(text->bytes + text->length, bytes, length);
    text->length += length;
    text->bytes[text->length] = '\0';
}

void rt_text_add(struct rt_text *text, const char *string)
{
    if (string != NULL)
        rt_text_add_bytes(text, string, strlen(string));
}

void rt_text_add_character(struct rt_text *text, char character)
{
    rt_text_add_bytes(text, &character, 1);
}

void rt_text_add_count(struct rt_text *text, long count, const char *noun)
{
    rt_text_format(text, "%ld %s%s", count, noun, count == 1 ? "" : "s");
}

/* Written at once where there is room, which is nearly always; a first go only to learn the length would double the work. */
void rt_text_format(struct rt_text *text, const char *format, ...)
{
    if (text->failed)
        return;
    const size_t room = text->bytes == NULL ? 0 : text->capacity - text->length;
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(room == 0 ? NULL : text->bytes + text->length, room, format, arguments);
    va_end(arguments);
    if (length < 0)
        text->failed = true;
    else if ((size_t)length >= room && make_room(text, (size_t)length))
        vsnprintf(text->bytes + text->length, (size_t)length + 1, format, again);
    va_end(again);
    if (!text->failed)
        text->length += (size_t)length;
    else if (text->bytes != NULL)
        text->bytes[text->length] = '\0'; /* of what did not fit nothing stays */
}

void rt_text_add_plain(struct rt_text *text, const char *string)
{
    for (const unsigned char *at = (const unsigned char *)string; at != NULL && *at != '\0'; at++)
        rt_text_add_character(text, *at < 0x20 || *at == 0x7f ? '?' : (char)*at);
}

/* A whole number of at most 15 digits, as %.15g has it. Most numbers of a report are counts. */
static void add_whole(struct rt_text *text, double value)
{
    char digits[24];
    size_t at = sizeof digits;
    long long left = (long long)fabs(value);
    do {
        digits[--at] = (char)('0' + left % 10);
        left /= 10;
    } while (left > 0);
    if (value < 0.0)
        digits[--at] = '-';
    rt_text_add_bytes(text, digits + at, sizeof digits - at);
}

void rt_text_add_number(struct rt_text *text, double value)
{
    if (fabs(value) < 1e15 && trunc(value) == value)
        add_whole(text, value);
    else if (isfinite(value))
        rt_text_format(text, "%.15g", value);
}

static bool looks_like_formula(const char *string)
{
    return string[0] != '\0' && strchr("=+-@\t\r", string[0]) != NULL;
}

void rt_text_add_csv_cell(struct rt_text *text, const char *string, bool neutralise_formula)
{
    if (string == NULL)
        return;
    size_t length = strlen(string);
    bool guard = neutralise_formula && looks_like_formula(string);
    bool quote =
        strpbrk(string, ",\"\r\n") != NULL || (length > 0 && (string[0] == ' ' || string[length - 1] == ' '));
    if (quote)
        rt_text_add_character(text, '"');
    if (guard)
        rt_text_add_character(text, '\'');
    for (const char *at = string; *at != '\0'; at++) {
        if (*at == '"')
            rt_text_add_character(text, '"');
        rt_text_add_character(text, *at);
    }
    if (quote)
        rt_text_add_character(text, '"');
}

void rt_text_add_json(struct rt_text *text, const char *string)
{
    if (string == NULL) {
        rt_text_add(text, "null");
        return;
    }
    rt_text_add_character(text, '"');
    for (const unsigned char *at = (const unsigned char *)string; *at != '\0'; at++) {
        if (*at == '"' || *at == '\\')
            rt_text_format(text, "\\%c", *at);
        else if (*at < 0x20)
            rt_text_format(text, "\\u%04x", *at);
        else
            rt_text_add_character(text, (char)*at);
    }
    rt_text_add_character(text, '"');
}

void rt_text_clear(struct rt_text *text)
{
    text->length = 0;
    text->failed = false;
    if (text->bytes != NULL)
        text->bytes[0] = '\0';
}

enum rt_status rt_text_status(const struct rt_text *text, struct rt_error *error)
{
    return text->failed ? rt_fail_memory(error) : RT_OK;
}

char *rt_text_detach(struct rt_text *text)
{
    if (!text->failed && text->bytes == NULL)
        rt_text_add(text, "");
    char *bytes = text->bytes;
    if (text->failed) {
        free(bytes);
        bytes = NULL;
    }
    *text = (struct rt_text){0};
    return bytes;
}

void rt_text_release(struct rt_text *text)
{
    free(text->bytes);
    *text = (struct rt_text){0};
}
