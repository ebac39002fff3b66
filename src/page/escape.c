#include "ridgetally/page/escape.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum { REPLACEMENT = 0xFFFD };

/* Decode one code point of UTF-8 (RFC 3629: shortest form, no surrogates, at most U+10FFFF) and move *at
 * behind it. A byte that begins no such sequence gives REPLACEMENT and is skipped alone. */
static uint32_t next_code_point(const unsigned char **at)
{
    static const uint32_t smallest[] = {0, 0, 0x80, 0x800, 0x10000};
    const unsigned char *bytes = *at;
    unsigned char lead = bytes[0];
    int length = lead < 0x80 ? 1 : lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 0;
    *at = bytes + 1;
    if (length == 1)
        return lead;
    if (length == 0 || lead > 0xF4)
        return REPLACEMENT;
    uint32_t code = lead & (0x7Fu >> length);
    for (int i = 1; i < length; i++) {
        if ((bytes[i] & 0xC0) != 0x80) /* also ends at the NUL */
            return REPLACEMENT;
        code = code << 6 | (bytes[i] & 0x3Fu);
    }
    if (code < smallest[length] || (code >= 0xD800 && code <= 0xDFFF) || code > 0x10FFFF)
        return REPLACEMENT;
    *at = bytes + length;
    return code;
}

static bool turns_direction(uint32_t code)
{
    return code == 0x061C || code == 0x200E || code == 0x200F || (code >= 0x202A && code <= 0x202E) ||
           (code >= 0x2066 && code <= 0x2069);
}

static uint32_t printable(uint32_t code)
{
    bool control = (code < 0x20 && code != '\t' && code != '\n' && code != '\r') || code == 0x7F ||
                   (code >= 0x80 && code < 0xA0);
    bool noncharacter = (code & 0xFFFE) == 0xFFFE || (code >= 0xFDD0 && code <= 0xFDEF);
    return control || noncharacter || turns_direction(code) ? REPLACEMENT : code;
}

static void add_utf8(struct rt_text *text, uint32_t code)
{
    char bytes[4];
    size_t length = 0;
    if (code < 0x80) {
        bytes[length++] = (char)code;
    } else if (code < 0x800) {
        bytes[length++] = (char)(0xC0 | code >> 6);
        bytes[length++] = (char)(0x80 | (code & 0x3F));
    } else if (code < 0x10000) {
        bytes[length++] = (char)(0xE0 | code >> 12);
        bytes[length++] = (char)(0x80 | (code >> 6 & 0x3F));
        bytes[length++] = (char)(0x80 | (code & 0x3F));
    } else {
        bytes[length++] = (char)(0xF0 | code >> 18);
        bytes[length++] = (char)(0x80 | (code >> 12 & 0x3F));
        bytes[length++] = (char)(0x80 | (code >> 6 & 0x3F));
        bytes[length++] = (char)(0x80 | (code & 0x3F));
    }
    rt_text_add_bytes(text, bytes, length);
}

/* How many characters from here on stand for themselves: nearly all of a page. */
static size_t plain_run(const unsigned char *at)
{
    size_t length = 0;
    while (at[length] >= 0x20 && at[length] < 0x7F && at[length] != '&' && at[length] != '<' &&
           at[length] != '>' && at[length] != '"' && at[length] != '\'' && at[length] != '`')
        length++;
    return length;
}

void rt_html_add(struct rt_text *html, const char *string)
{
    if (string == NULL)
        return;
    for (const unsigned char *at = (const unsigned char *)string; *at != '\0';) {
        const size_t run = plain_run(at);
        if (run > 0) {
            rt_text_add_bytes(html, (const char *)at, run);
            at += run;
            continue;
        }
        uint32_t code = printable(next_code_point(&at));
        switch (code) {
        case '&':
            rt_text_add(html, "&amp;");
            break;
        case '<':
            rt_text_add(html, "&lt;");
            break;
        case '>':
            rt_text_add(html, "&gt;");
            break;
        case '"':
            rt_text_add(html, "&quot;");
            break;
        case '\'':
            rt_text_add(html, "&#39;");
            break;
        case '`':
            rt_text_add(html, "&#96;");
            break;
        default:
            add_utf8(html, code);
        }
    }
}

void rt_html_add_raw(struct rt_text *html, const char *markup)
{
    rt_text_add(html, markup);
}

void rt_css_add_string(struct rt_text *css, const char *string)
{
    rt_text_add_character(css, '"');
    for (const unsigned char *at = (const unsigned char *)(string == NULL ? "" : string); *at != '\0';) {
        uint32_t code = printable(next_code_point(&at));
        bool plain = code == ' ' || (code >= '0' && code <= '9') || (code >= 'A' && code <= 'Z') ||
                     (code >= 'a' && code <= 'z');
        if (plain)
            rt_text_add_character(css, (char)code);
        else
            rt_text_format(css, "\\%06X", (unsigned)code); /* six digits need no closing space */
    }
    rt_text_add_character(css, '"');
}
