/* Which filters a deck takes, and what they are called in its cells. */
#include "deck_parts.h"

#include "ridgetally/base/date.h"

#include <ctype.h>
#include <string.h>

enum spelling { LABEL, CODE, SCALE };

/* In order of their names, which are those of the groupings. */
static const struct {
    const char *name;
    enum rt_filter_fact fact;
    enum spelling spelling;
} facts[] = {
    {"changed", RT_FILTER_CHANGED, CODE},
    {"closure", RT_FILTER_CLOSURE, CODE},
    {"density_found", RT_FILTER_DENSITY_FOUND, SCALE},
    {"density_planned", RT_FILTER_DENSITY_PLANNED, SCALE},
    {"diabetes", RT_FILTER_DIABETES, CODE},
    {"graft", RT_FILTER_GRAFT, CODE},
    {"implant_line", RT_FILTER_LINE, LABEL},
    {"jaw", RT_FILTER_JAW, CODE},
    {"operator", RT_FILTER_OPERATOR, LABEL},
    {"periodontitis", RT_FILTER_PERIODONTITIS, CODE},
    {"region", RT_FILTER_REGION, CODE},
    {"sex", RT_FILTER_SEX, CODE},
    {"smoking", RT_FILTER_SMOKING, CODE},
    {"stalled", RT_FILTER_STALLED, CODE},
    {"timing", RT_FILTER_TIMING, CODE},
};

/* Two ways to type a value must be one cell. */
static void add_value(struct rt_text *text, const char *value, enum spelling spelling)
{
    bool none = strcmp(value, "not recorded") == 0 || strcmp(value, "not-recorded") == 0;
    for (; *value != '\0'; value++) {
        int letter = (unsigned char)*value;
        if (spelling == SCALE && !none)
            letter = toupper(letter);
        else if (spelling == CODE || none)
            letter = letter == '-' ? ' ' : tolower(letter);
        if (strchr("&=;%", letter) != NULL)
            rt_text_format(text, "%%%02X", (unsigned)letter);
        else
            rt_text_add_character(text, (char)letter);
    }
}

enum rt_status deck_conditions(const struct rt_audit_filters *filters, struct rt_text *conditions,
                               struct rt_error *error)
{
    enum rt_status status = RT_OK;
    if (filters->values[RT_FILTER_TOOTH] != NULL || filters->values[RT_FILTER_AGE] != NULL ||
        filters->placed_from != RT_NO_DATE || filters->placed_to != RT_NO_DATE) {
        status = rt_fail(error, RT_USE, "a deck cannot be of a tooth, an age or days of placement");
        rt_error_remedy(error,
                        "such a choice points to single patients; choose by another fact, or by the period");
    }
    for (size_t i = 0; status == RT_OK && i < sizeof facts / sizeof facts[0]; i++) {
        const char *value = filters->values[facts[i].fact];
        if (value == NULL)
            continue;
        if (strchr(value, ',') != NULL) {
            status = rt_fail(error, RT_USE, "a deck takes one value of a fact, not '%s'", value);
            rt_error_remedy(error, "groups put together anew could be subtracted from those of other decks");
        }
        rt_text_format(conditions, "%s%s=", conditions->length > 0 ? "&" : "", facts[i].name);
        add_value(conditions, value, facts[i].spelling);
    }
    rt_text_add(conditions, "");
    return status == RT_OK ? rt_text_status(conditions, error) : status;
}

void deck_filter_words(const struct rt_audit_filters *filters, bool show_operators, bool show_lines,
                       struct rt_text *words)
{
    struct rt_audit_filters open = *filters;
    struct rt_text rest = {0};
    if (open.values[RT_FILTER_OPERATOR] != NULL && !show_operators) {
        open.values[RT_FILTER_OPERATOR] = NULL;
        rt_text_add(words, "one operator");
    }
    if (open.values[RT_FILTER_LINE] != NULL && !show_lines) {
        open.values[RT_FILTER_LINE] = NULL;
        rt_text_format(words, "%sone implant line", words->length > 0 ? "; " : "");
    }
    rt_filter_words(&open, &rest);
    if (rest.length > 0)
        rt_text_format(words, "%s%s", words->length > 0 ? "; " : "", rest.bytes);
    words->failed = words->failed || rest.failed;
    rt_text_add(words, "");
    rt_text_release(&rest);
}
