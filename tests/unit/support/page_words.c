#include "page_words.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define AT_LEAST "\xE2\x89\xA5"
#define ELLIPSIS "\xE2\x80\xA6"
#define MINUS    "\xE2\x88\x92"

static const char digits[] = "0123456789";

/* Numbers of definitions, in the words around them. */
static const char *const definitions[] = {
    "12 months",
    "within 180 days",
    "first 180 days",
    "180 days not over",
    "within 0.5 mm",
    "more than 0.5 mm",
    "0.2 mm a year",
    "per 100 implant-years",
    "density class 3 or 4",
    "95% interval",
    "95% intervals",
    "95% limits",
    "99.8% limits",
    "95%",
    "99.8%",
    "axis not from 0%",
    "fewer than 10 patients at risk",
    "no effect is 0",
    "no effect is 1",
    "a slope of 1",
    "p is against 1",
    "36 months",
    "60 months",
    "log2",
    "scale D1 to D4",
    "Lekholm and Zarb types 1 to 4",
};

static bool has_digit(const char *text)
{
    return text[strcspn(text, digits)] != '\0';
}

static bool is_bare_number(const char *text)
{
    for (; *text != '\0'; text++)
        if (isalpha((unsigned char)*text))
            return false;
    return true;
}

static bool is_known(const struct page_words *words, const char *form)
{
    for (size_t i = 0; i < words->level_count; i++)
        if (strcmp(words->levels[i], form) == 0)
            return true;
    return false;
}

static void add_form(struct page_words *words, const char *text)
{
    char form[512];
    snprintf(form, sizeof form, "%s", text);
    for (char *at = form; *at != '\0'; at++) /* as pages show them */
        *at = (unsigned char)*at < 0x20 ? ' ' : *at;
    if (!has_digit(form) || is_known(words, form))
        return;
    if (words->level_count == words->level_capacity)
        words->levels = realloc(words->levels, (words->level_capacity = words->level_capacity * 2 + 64) *
                                                   sizeof *words->levels);
    words->levels[words->level_count++] = strdup(form);
}

/* With and without its unit, which the head of an axis or of a table says once. */
static void add_with_unit(struct page_words *words, const char *form)
{
    static const char *const units[] = {" mm", " Ncm"};
    add_form(words, form);
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        const char *at = strstr(form, units[i]);
        if (at == NULL)
            continue;
        char copy[512];
        snprintf(copy, sizeof copy, "%.*s%s", (int)(at - form), form, at + strlen(units[i]));
        add_form(words, copy);
    }
}

/* A part of a level: as it stands, with one sign for two, and with words for signs. */
static void add_part(struct page_words *words, const char *part)
{
    char form[512];
    const char *inner = strstr(part, " to <"), *equals = strchr(part, '=');
    add_with_unit(words, part);
    if (part[0] == '>' && part[1] == '=') {
        snprintf(form, sizeof form, AT_LEAST "%s", part + 2);
        add_with_unit(words, form);
        snprintf(form, sizeof form, "%s or more", part + 2);
        add_with_unit(words, form);
    } else if (part[0] == '<' || part[0] == '>') {
        snprintf(form, sizeof form, "%s %s", part[0] == '<' ? "under" : "over", part + 1);
        add_with_unit(words, form);
    } else if (inner != NULL) {
        snprintf(form, sizeof form, "%.*s to under %s", (int)(inner - part), part, inner + strlen(" to <"));
        add_with_unit(words, form);
    } else if (equals != NULL) { /* a term of a model: density_found=D4 */
        add_part(words, equals + 1);
    }
}

void page_words_add(struct page_words *words, const char *level, double time)
{
    char part[512];
    while (*level != '\0') {
        size_t length = strcspn(level, "|");
        snprintf(part, sizeof part, "%.*s", (int)length, level);
        if (has_digit(part))
            add_part(words, part);
        level += length + (level[length] == '|');
    }
    for (size_t i = 0; i < words->time_count; i++)
        if (words->times[i] == time)
            return;
    if (isnan(time))
        return;
    if (words->time_count == words->time_capacity)
        words->times = realloc(words->times,
                               (words->time_capacity = words->time_capacity * 2 + 64) * sizeof *words->times);
    words->times[words->time_count++] = time;
}

void page_words_release(struct page_words *words)
{
    for (size_t i = 0; i < words->level_count; i++)
        free(words->levels[i]);
    free(words->levels);
    free(words->times);
    *words = (struct page_words){0};
}

/* --- what a piece of text is; each returns its length in bytes, 0 when it is none ------------------------ */

static size_t begins_with(const char *at, const char *phrase, bool any_case)
{
    size_t length = strlen(phrase);
    bool same = strncmp(at, phrase, length) == 0;
    if (!same && any_case && toupper((unsigned char)phrase[0]) == (unsigned char)at[0])
        same = strncmp(at + 1, phrase + 1, length - 1) == 0;
    bool ends = !isalnum((unsigned char)at[same ? length : 0]) || !isalnum((unsigned char)phrase[length - 1]);
    return same && ends ? length : 0;
}

/* What is length bytes long at `at` is the whole text, or stands between commas. */
static bool stands_apart(const char *text, const char *at, size_t length)
{
    return (at == text || (at - text >= 2 && strncmp(at - 2, ", ", 2) == 0)) &&
           (at[length] == '\0' || at[length] == ',');
}

static size_t definition_at(const char *text, const char *at)
{
    size_t longest = 0;
    for (size_t i = 0; i < sizeof definitions / sizeof definitions[0]; i++) {
        size_t length = begins_with(at, definitions[i], true);
        if (length > longest && (stands_apart(text, at, length) || !is_bare_number(definitions[i])))
            longest = length;
    }
    return longest;
}

static size_t count_digits(const char *at)
{
    return strspn(at, digits);
}

static size_t date_at(const char *at)
{
    static const char *const months[] = {"January",   "February", "March",    "April",
                                         "May",       "June",     "July",     "August",
                                         "September", "October",  "November", "December"};
    size_t day = count_digits(at);
    if (day == 4 && at[4] == 'Q' && at[5] >= '1' && at[5] <= '4' && !isalnum((unsigned char)at[6]))
        return 6;
    if (day == 4 && at[4] == '-' && count_digits(at + 5) == 2 && at[7] == '-' && count_digits(at + 8) == 2)
        return 10;
    for (size_t i = 0; (day == 1 || day == 2) && at[day] == ' ' && i < 12; i++) {
        size_t month = strlen(months[i]);
        if (strtol(at, NULL, 10) <= 31 && strncmp(at + day + 1, months[i], month) == 0 &&
            at[day + 1 + month] == ' ' && count_digits(at + day + month + 2) == 4)
            return day + month + 6;
    }
    return 0;
}

/* A level in running text; a number alone is not enough there. */
static size_t level_at(const struct page_words *words, const char *text, const char *at)
{
    size_t longest = 0;
    for (size_t i = 0; i < words->level_count; i++) {
        size_t length = begins_with(at, words->levels[i], false);
        if (length > longest && (stands_apart(text, at, length) || !is_bare_number(words->levels[i])))
            longest = length;
    }
    return longest;
}

static bool is_time(const struct page_words *words, double time)
{
    for (size_t i = 0; i < words->time_count; i++)
        if (fabs(words->times[i] - time) < 1e-9 * fmax(1.0, fabs(time)))
            return true;
    return false;
}

/* A time, or the place on a curve, with its unit; parts of a year may be told in months. */
static size_t time_at(const struct page_words *words, const char *text, const char *at)
{
    static const char *const units[] = {"years", "year", "months",   "month",   "mm",       "Ncm",
                                        "days",  "day",  "implants", "implant", "patients", "patient"};
    char *end = NULL;
    double sign = 1.0;
    const char *number = at;
    if (strncmp(at, MINUS, strlen(MINUS)) == 0) {
        sign = -1.0;
        number += strlen(MINUS);
    }
    if (!isdigit((unsigned char)*number))
        return 0;
    double time = sign * strtod(number, &end);
    if (*end != ' ')
        return 0;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t length = begins_with(end + 1, units[i], false);
        bool months = strncmp(units[i], "month", strlen("month")) == 0;
        const size_t whole = (size_t)(end + 1 - at) + length;
        if (length > 0 && stands_apart(text, at, whole) &&
            (is_time(words, time) || (months && is_time(words, time / 12.0))))
            return whole;
    }
    return 0;
}

const char *page_words_stray(const struct page_words *words, const char *text)
{
    for (const char *at = text; *at != '\0';) {
        bool begins = at == text || !isalnum((unsigned char)at[-1]);
        size_t length = 0;
        if (begins) {
            const size_t lengths[] = {definition_at(text, at), date_at(at), level_at(words, text, at),
                                      time_at(words, text, at)};
            for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++)
                length = lengths[i] > length ? lengths[i] : length;
        }
        if (length == 0 && isdigit((unsigned char)*at))
            return at;
        at += length > 0 ? length : 1;
    }
    return NULL;
}

/* --- names ------------------------------------------------------------------------------------------------ */

/* The same but for hyphens as spaces and a capital at the beginning; cut: up to the end of name. */
static bool is_same_name(const char *name, const char *level, bool cut)
{
    size_t i = 0;
    for (; name[i] != '\0' && level[i] != '\0'; i++) {
        char a = name[i], b = level[i] == '-' && name[i] == ' ' ? ' ' : level[i];
        if (a != b && !(i == 0 && toupper((unsigned char)b) == (unsigned char)a))
            return false;
    }
    return name[i] == '\0' && (cut || level[i] == '\0');
}

static bool is_part_name(const struct page_words *words, const char *part)
{
    char name[512];
    snprintf(name, sizeof name, "%s", part);
    char *ellipsis = strstr(name, ELLIPSIS);
    bool cut = ellipsis != NULL && ellipsis[strlen(ELLIPSIS)] == '\0';
    if (cut)
        *ellipsis = '\0';
    for (size_t i = 0; i < words->level_count; i++)
        if (is_same_name(name, words->levels[i], cut))
            return true;
    return !has_digit(name);
}

bool page_words_is_name(const struct page_words *words, const char *text)
{
    static const char *const joints[] = {"|", " and "};
    char part[512];
    if (is_part_name(words, text))
        return true;
    for (size_t i = 0; i < sizeof joints / sizeof joints[0]; i++) {
        const char *at = strstr(text, joints[i]);
        if (at == NULL)
            continue;
        snprintf(part, sizeof part, "%.*s", (int)(at - text), text);
        return is_part_name(words, part) && page_words_is_name(words, at + strlen(joints[i]));
    }
    return false;
}

bool page_words_is_tick(const char *text)
{
    if (strncmp(text, MINUS, strlen(MINUS)) == 0)
        text += strlen(MINUS);
    size_t whole = count_digits(text);
    text += whole;
    if (*text == '.') {
        size_t parts = count_digits(text + 1);
        if (parts == 0)
            return false;
        text += 1 + parts;
    }
    return whole > 0 && (*text == '\0' || strcmp(text, "%") == 0);
}

const char *page_words_stray_in_footer(const char *text)
{
    static const char program[] = "by ridgetally ", mark[] = "Fingerprint of the records used: ";
    for (const char *at = text; *at != '\0'; at++) {
        if (strncmp(at, program, strlen(program)) == 0)
            at += strlen(program) + strspn(at + strlen(program), "0123456789.") - 1;
        else if (strncmp(at, mark, strlen(mark)) == 0)
            at += strlen(mark) + strspn(at + strlen(mark), "0123456789abcdef") - 1;
        else if (isdigit((unsigned char)*at))
            return at;
    }
    return NULL;
}
