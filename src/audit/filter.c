#include "ridgetally/audit/filter.h"

#include "ridgetally/base/arena.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"
#include "ridgetally/store/narrow.h"
#include "ridgetally/store/query.h"

#include <ctype.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static const char not_recorded[] = "not recorded";

static const char *const jaws[] = {"upper", "lower", NULL};
static const char *const regions[] = {"upper front", "upper back", "lower front", "lower back", NULL};
static const char *const densities[] = {"D1", "D2", "D3", "D4", "LZ1", "LZ2", "LZ3", "LZ4", NULL};
static const char *const answers[] = {"yes", "no", NULL};
static const char *const closures[] = {"one-stage", "two-stage", NULL};
static const char *const timings[] = {"type 1", "type 2", "type 3", "type 4", "immediate",
                                      "early",  "late",   "healed", NULL};
static const char *const sexes[] = {"F", "M", "other", NULL};
static const char *const smokings[] = {"never", "former", "current", NULL};
static const char *const diabetes_states[] = {"none", "controlled", "uncontrolled", NULL};

/* Labels are what the store holds; codes are a list of ours; years are numbers and ranges. */
enum kind { LABELS, CODES, YEARS };

static const struct {
    const char *option, *words;
    enum kind kind;
    const char *const *codes;
} facts[RT_FILTER_FACTS] = {
    [RT_FILTER_OPERATOR] = {"--operator", "operator", LABELS, NULL},
    [RT_FILTER_LINE] = {"--line", "implant line", LABELS, NULL},
    [RT_FILTER_JAW] = {"--jaw", "jaw", CODES, jaws},
    [RT_FILTER_REGION] = {"--region", "region", CODES, regions},
    [RT_FILTER_TOOTH] = {"--tooth", "tooth", LABELS, NULL},
    [RT_FILTER_DENSITY_PLANNED] = {"--density-planned", "density planned", CODES, densities},
    [RT_FILTER_DENSITY_FOUND] = {"--density-found", "density found", CODES, densities},
    [RT_FILTER_STALLED] = {"--stalled", "stalled", CODES, answers},
    [RT_FILTER_CHANGED] = {"--changed", "changed for another size", CODES, answers},
    [RT_FILTER_CLOSURE] = {"--closure", "closure", CODES, closures},
    [RT_FILTER_TIMING] = {"--timing", "timing", CODES, timings},
    [RT_FILTER_GRAFT] = {"--graft", "bone added", CODES, answers},
    [RT_FILTER_AGE] = {"--age", "age at placement", YEARS, NULL},
    [RT_FILTER_SEX] = {"--sex", "sex", CODES, sexes},
    [RT_FILTER_SMOKING] = {"--smoking", "smoking", CODES, smokings},
    [RT_FILTER_DIABETES] = {"--diabetes", "diabetes", CODES, diabetes_states},
    [RT_FILTER_PERIODONTITIS] = {"--periodontitis", "history of periodontitis", CODES, answers},
};

struct rt_audit_filters rt_no_filters(void)
{
    return (struct rt_audit_filters){.placed_from = RT_NO_DATE, .placed_to = RT_NO_DATE};
}

bool rt_filters_given(const struct rt_audit_filters *filters)
{
    if (filters == NULL)
        return false;
    bool given = filters->placed_from != RT_NO_DATE || filters->placed_to != RT_NO_DATE;
    for (size_t i = 0; i < RT_FILTER_FACTS; i++)
        given = given || filters->values[i] != NULL;
    return given;
}

/* --- the values of a filter ------------------------------------------------------------------------------ */

/* Move the next value, unescaped and without blanks around it, into *value; false at the end of the list. */
static bool next_value(const char **list, struct rt_text *value)
{
    const char *at = *list;
    if (at == NULL)
        return false;
    rt_text_clear(value);
    rt_text_add(value, "");
    while (*at == ' ')
        at++;
    for (; *at != '\0' && *at != ','; at++) {
        at += at[0] == '\\' && at[1] == ',';
        rt_text_add_character(value, *at);
    }
    while (!value->failed && value->length > 0 && value->bytes[value->length - 1] == ' ')
        value->bytes[--value->length] = '\0';
    *list = *at == ',' ? at + 1 : NULL;
    return !value->failed;
}

/* Letter case does not count in codes, and a hyphen stands for a blank. */
static bool same_code(const char *typed, const char *code)
{
    for (; *typed != '\0' && *code != '\0'; typed++, code++) {
        int a = *typed == '-' ? ' ' : tolower((unsigned char)*typed);
        int b = *code == '-' ? ' ' : tolower((unsigned char)*code);
        if (a != b)
            return false;
    }
    return *typed == *code;
}

static const char *code_of(enum rt_filter_fact fact, const char *typed)
{
    if (same_code(typed, not_recorded))
        return not_recorded;
    if (facts[fact].kind != CODES)
        return NULL;
    for (const char *const *code = facts[fact].codes; *code != NULL; code++)
        if (same_code(typed, *code))
            return *code;
    return NULL;
}

/* A number of years or a range; an open end is 0 or 999. */
static bool years_of(const char *typed, long *least, long *most)
{
    char part[8];
    const char *hyphen = strchr(typed, '-');
    size_t length = hyphen == NULL ? strlen(typed) : (size_t)(hyphen - typed);
    const char *end = hyphen == NULL ? typed : hyphen + 1;
    if (length >= sizeof part || (length == 0 && *end == '\0'))
        return false;
    memcpy(part, typed, length);
    part[length] = '\0';
    *least = 0;
    *most = 999;
    bool good = length == 0 || rt_parse_integer(part, least);
    good = good && (*end == '\0' || rt_parse_integer(end, most));
    return good && *least >= 0 && *least <= *most && *most <= 999;
}

static void add_years(const char *typed, struct rt_text *words)
{
    long least, most;
    if (!years_of(typed, &least, &most))
        rt_text_add(words, typed);
    else if (least == most)
        rt_text_format(words, "%ld", least);
    else if (least == 0)
        rt_text_format(words, "up to %ld", most);
    else if (most == 999)
        rt_text_format(words, "%ld or more", least);
    else
        rt_text_format(words, "%ld to %ld", least, most);
}

static void add_value(enum rt_filter_fact fact, const char *typed, struct rt_text *words)
{
    const char *code = code_of(fact, typed);
    if (code != NULL)
        rt_text_add(words, code);
    else if (facts[fact].kind == YEARS)
        add_years(typed, words);
    else
        rt_text_add(words, typed);
}

static void add_separator(struct rt_text *words, size_t before)
{
    if (words->length > before)
        rt_text_add(words, "; ");
}

static void add_days(const struct rt_audit_filters *filters, struct rt_text *words)
{
    char from[11], to[11];
    bool open = filters->placed_from == RT_NO_DATE;
    if (!open)
        rt_text_format(words, "placed from %s", rt_format_iso_date(filters->placed_from, from));
    if (filters->placed_to != RT_NO_DATE)
        rt_text_format(words, "%s to %s", open ? "placed" : "", rt_format_iso_date(filters->placed_to, to));
}

void rt_filter_words(const struct rt_audit_filters *filters, struct rt_text *words)
{
    struct rt_text value = {0};
    const size_t before = words->length;
    if (!rt_filters_given(filters))
        return;
    add_days(filters, words);
    for (size_t i = 0; i < RT_FILTER_FACTS; i++) {
        const char *list = filters->values[i], *joint = " ";
        if (list == NULL)
            continue;
        add_separator(words, before);
        rt_text_add(words, facts[i].words);
        for (; next_value(&list, &value); joint = " or ") {
            rt_text_add(words, joint);
            add_value((enum rt_filter_fact)i, value.bytes, words);
        }
    }
    words->failed = words->failed || value.failed;
    rt_text_release(&value);
}

/* --- choosing --------------------------------------------------------------------------------------------- */

/* One value of a filter, and whether an implant has it. */
struct wanted {
    const char *text; /* as typed, or the code */
    bool unrecorded;  /* chooses implants without the fact */
    long least, most; /* years */
    bool met;
};

struct filter {
    struct wanted *wanted;
    size_t count, capacity;
};

struct choosing {
    const struct rt_audit_filters *filters;
    struct filter of[RT_FILTER_FACTS];
    struct rt_arena arena;
    int64_t *chosen;
    size_t count, capacity;
};

static enum rt_status fail_code(enum rt_filter_fact fact, const char *typed, struct rt_error *error)
{
    struct rt_text list = {0};
    rt_fail(error, RT_USE, "%s has no value '%s'", facts[fact].option, typed);
    if (facts[fact].kind == YEARS) {
        rt_error_remedy(error, "give years or ranges of years such as 40-59, -39 or 60-, or not-recorded");
        return RT_USE;
    }
    for (const char *const *code = facts[fact].codes; *code != NULL; code++)
        rt_text_format(&list, "%s, ", *code);
    rt_error_remedy(error, "there are %snot-recorded", list.failed ? "" : list.bytes);
    rt_text_release(&list);
    return RT_USE;
}

static enum rt_status want(struct choosing *choosing, enum rt_filter_fact fact, const char *typed,
                           struct rt_error *error)
{
    struct filter *filter = &choosing->of[fact];
    const char *code = code_of(fact, typed);
    struct wanted wanted = {.unrecorded = code == not_recorded};
    bool known = code != NULL || facts[fact].kind == LABELS ||
                 (facts[fact].kind == YEARS && years_of(typed, &wanted.least, &wanted.most));
    if (typed[0] == '\0')
        return rt_fail(error, RT_USE, "%s has an empty value", facts[fact].option);
    if (!known)
        return fail_code(fact, typed, error);
    wanted.text = rt_arena_copy(&choosing->arena, code != NULL ? code : typed);
    struct wanted *grown =
        rt_grow_array(filter->wanted, &filter->capacity, filter->count + 1, sizeof *filter->wanted);
    if (grown != NULL)
        filter->wanted = grown;
    if (grown == NULL || wanted.text == NULL)
        return rt_fail_memory(error);
    filter->wanted[filter->count++] = wanted;
    return RT_OK;
}

static enum rt_status read_filters(struct choosing *choosing, struct rt_error *error)
{
    struct rt_text value = {0};
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < RT_FILTER_FACTS; i++) {
        const char *list = choosing->filters->values[i];
        while (status == RT_OK && next_value(&list, &value))
            status = want(choosing, (enum rt_filter_fact)i, value.bytes, error);
    }
    if (status == RT_OK)
        status = rt_text_status(&value, error);
    rt_text_release(&value);
    return status;
}

enum { ID, PLACED_ON, FIRST_FACT };

static bool meets(struct filter *filter, enum kind kind, const struct rt_query *query, int column)
{
    const char *text = rt_column_text(query, column);
    bool any = filter->count == 0;
    for (size_t i = 0; i < filter->count; i++) {
        struct wanted *wanted = &filter->wanted[i];
        long years = kind == YEARS ? (long)rt_column_integer(query, column, -1) : 0;
        bool has = wanted->unrecorded || text == NULL ? wanted->unrecorded && text == NULL
                   : kind == YEARS                    ? years >= wanted->least && years <= wanted->most
                                                      : strcmp(text, wanted->text) == 0;
        wanted->met = wanted->met || has;
        any = any || has;
    }
    return any;
}

static enum rt_status keep(struct choosing *choosing, int64_t id, struct rt_error *error)
{
    int64_t *chosen =
        rt_grow_array(choosing->chosen, &choosing->capacity, choosing->count + 1, sizeof *choosing->chosen);
    if (chosen == NULL)
        return rt_fail_memory(error);
    choosing->chosen = chosen;
    chosen[choosing->count++] = id;
    return RT_OK;
}

static enum rt_status choose(struct choosing *choosing, struct rt_store *store, struct rt_error *error)
{
    const struct rt_audit_filters *filters = choosing->filters;
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/filter-facts.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        int placed_on = rt_column_date(query, PLACED_ON);
        bool dated = placed_on != RT_NO_DATE;
        bool all = (filters->placed_from == RT_NO_DATE || (dated && placed_on >= filters->placed_from)) &&
                   (filters->placed_to == RT_NO_DATE || (dated && placed_on <= filters->placed_to));
        for (int i = 0; i < RT_FILTER_FACTS; i++) /* each is asked, so that it knows which values there are */
            all = meets(&choosing->of[i], facts[i].kind, query, FIRST_FACT + i) && all;
        if (all)
            status = keep(choosing, rt_column_integer(query, ID, 0), error);
    }
    rt_query_close(query);
    return status;
}

/* --- what the store holds, for the words of an error -------------------------------------------------------- */

static int compare_texts(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* The different labels of a fact, in byte order. */
static enum rt_status list_labels(struct choosing *choosing, struct rt_store *store, enum rt_filter_fact fact,
                                  struct rt_text *list, struct rt_error *error)
{
    enum { MOST = 200 };
    const char *labels[MOST];
    size_t count = 0;
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/filter-facts.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char *text = rt_column_text(query, FIRST_FACT + (int)fact);
        size_t at = 0;
        while (text != NULL && at < count && strcmp(labels[at], text) != 0)
            at++;
        if (text != NULL && at == count && count < MOST &&
            (labels[count] = rt_arena_copy(&choosing->arena, text)) != NULL)
            count++;
    }
    rt_query_close(query);
    qsort(labels, count, sizeof labels[0], compare_texts);
    for (size_t i = 0; i < count && list->length < 400; i++)
        rt_text_format(list, "%s, ", labels[i]);
    return status;
}

static enum rt_status fail_label(struct choosing *choosing, struct rt_store *store, enum rt_filter_fact fact,
                                 const char *typed, struct rt_error *error)
{
    struct rt_text list = {0};
    rt_text_add(&list, "");
    enum rt_status status = list_labels(choosing, store, fact, &list, error);
    if (status == RT_OK && rt_text_status(&list, error) == RT_OK) {
        rt_fail(error, RT_USE, "no implant of the store has the %s '%s'", facts[fact].words, typed);
        rt_error_remedy(error, "there are %snot-recorded", list.bytes);
        status = RT_USE;
    }
    rt_text_release(&list);
    return status;
}

static enum rt_status check_met(struct choosing *choosing, struct rt_store *store, struct rt_error *error)
{
    for (size_t i = 0; i < RT_FILTER_FACTS; i++)
        for (size_t j = 0; facts[i].kind == LABELS && j < choosing->of[i].count; j++)
            if (!choosing->of[i].wanted[j].met && !choosing->of[i].wanted[j].unrecorded)
                return fail_label(choosing, store, (enum rt_filter_fact)i, choosing->of[i].wanted[j].text,
                                  error);
    if (choosing->count > 0)
        return RT_OK;
    struct rt_text words = {0};
    rt_filter_words(choosing->filters, &words);
    rt_fail(error, RT_USE, "no implant of the store is among these: %s", words.failed ? "" : words.bytes);
    rt_error_remedy(error, "leave one of the conditions out");
    rt_text_release(&words);
    return RT_USE;
}

static void release(struct choosing *choosing)
{
    for (size_t i = 0; i < RT_FILTER_FACTS; i++)
        free(choosing->of[i].wanted);
    free(choosing->chosen);
    rt_arena_release(&choosing->arena);
}

enum rt_status rt_check_filters(const struct rt_audit_filters *filters, struct rt_error *error)
{
    struct choosing choosing = {.filters = filters};
    enum rt_status status = read_filters(&choosing, error);
    release(&choosing);
    return status;
}

enum rt_status rt_apply_filters(struct rt_store *store, const struct rt_audit_filters *filters,
                                struct rt_error *error)
{
    if (!rt_filters_given(filters))
        return RT_OK;
    struct choosing choosing = {.filters = filters};
    enum rt_status status = read_filters(&choosing, error);
    if (status == RT_OK)
        status = choose(&choosing, store, error);
    if (status == RT_OK)
        status = check_met(&choosing, store, error);
    if (status == RT_OK)
        status = rt_narrow_store(store, choosing.chosen, choosing.count, error);
    release(&choosing);
    return status;
}
