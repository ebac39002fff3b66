#include "ridgetally/audit/house_rules.h"

#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const rule_names[RT_RULE_KINDS] = {
    [RT_RULE_DEPTH] = "depth-below-crest",      [RT_RULE_SUM] = "tissue-plus-depth",
    [RT_RULE_TORQUE] = "torque-per-millimetre", [RT_RULE_STALL] = "never-stalled",
    [RT_RULE_WALL] = "bone-all-round",          [RT_RULE_DRILL] = "density-by-drill",
    [RT_RULE_DENSE] = "dense-bone-drilling",    [RT_RULE_RESERVE] = "size-in-reserve",
    [RT_RULE_WAIT] = "wait-twelve-weeks",
};

static const char *const outcome_names[RT_RULE_OUTCOMES] = {
    [RT_OUTCOME_EXPOSED] = "exposure_share",
    [RT_OUTCOME_CREST_CHANGE] = "crest_change",
    [RT_OUTCOME_EARLY_FAILURE] = "early_failure",
    [RT_OUTCOME_FAILURE_AFTER_LOADING] = "failure_after_loading",
    [RT_OUTCOME_LOW_TORQUE] = "low_torque",
    [RT_OUTCOME_FINAL_TORQUE] = "final_torque",
    [RT_OUTCOME_DEPTH_WITHIN_HALF] = "depth_within_half",
    [RT_OUTCOME_TORQUE_PER_MM] = "torque_per_mm",
};

static const char *const confounders[RT_CONFOUNDERS][2] = {
    {"tissue_mm", "tissue height"},
    {"smoking", "smoking"},
    {"density_planned", "planned density"},
    {"density_found", "found density"},
    {"periodontitis", "periodontitis"},
    {"diabetes", "diabetes"},
    {"graft", "grafting"},
    {"diameter_mm", "diameter"},
    {"length_mm", "length"},
};

static int place_of(const char *const *names, int count, const char *name)
{
    for (int i = 0; i < count; i++)
        if (strcmp(names[i], name) == 0)
            return i;
    return -1;
}

const char *rt_confounder_name(int number)
{
    return confounders[number][0];
}

const char *rt_confounder_words(int number)
{
    return confounders[number][1];
}

unsigned rt_confounder_of(const char *name)
{
    for (int i = 0; i < RT_CONFOUNDERS; i++)
        if (strcmp(confounders[i][0], name) == 0)
            return 1u << i;
    return 0;
}

unsigned rt_confounders_of(const char *list, bool *known)
{
    unsigned bits = 0;
    *known = true;
    while (*list != '\0') {
        char name[32];
        size_t length = strcspn(list, ",");
        unsigned bit = 0;
        if (length < sizeof name) {
            memcpy(name, list, length);
            name[length] = '\0';
            bit = rt_confounder_of(name);
        }
        *known = *known && bit != 0;
        bits |= bit;
        list += length + (list[length] == ',');
    }
    return bits;
}

double rt_rule_parameter(const struct rt_house_rule *rule, const char *name)
{
    for (size_t i = 0; i < rule->parameter_count; i++)
        if (strcmp(rule->parameters[i].name, name) == 0)
            return rule->parameters[i].value;
    return NAN;
}

/* Columns of house-rules.sql. */
enum {
    NAME,
    STATEMENT,
    FORM,
    OUTCOME,
    DIRECTION,
    SMALLEST,
    STATED,
    WIDTH,
    UNIT,
    CONFOUNDERS,
    HARDER,
    ORIGIN,
    EDITED
};

static enum rt_status read_rule(const struct rt_query *query, struct rt_house_rules *rules,
                                struct rt_error *error)
{
    const char *name = rt_column_text(query, NAME), *direction = rt_column_text(query, DIRECTION);
    int kind = place_of(rule_names, RT_RULE_KINDS, name);
    int outcome = place_of(outcome_names, RT_RULE_OUTCOMES, rt_column_text(query, OUTCOME));
    bool known;
    unsigned bits = rt_confounders_of(rt_column_text(query, CONFOUNDERS), &known);
    if (kind < 0 || rules->count == RT_RULE_KINDS)
        return RT_OK; /* a rule of a later program */
    if (outcome < 0 || !known)
        return rt_fail(error, RT_STORE, "house rule %s: an outcome or confounder that is not known", name);
    struct rt_house_rule *rule = &rules->of[rules->count++];
    *rule = (struct rt_house_rule){
        .kind = (enum rt_rule_kind)kind,
        .outcome = (enum rt_rule_outcome_kind)outcome,
        .direction = strcmp(direction, "higher") == 0  ? 1
                     : strcmp(direction, "lower") == 0 ? -1
                                                       : 0,
        .smallest_difference = rt_column_real(query, SMALLEST),
        .stated_value = rt_column_real(query, STATED),
        .largest_width = rt_column_real(query, WIDTH),
        .confounders = bits,
        .harder_with_easier = rt_column_integer(query, HARDER, 0) != 0,
        .edited = rt_column_integer(query, EDITED, 0) != 0,
    };
    snprintf(rule->name, sizeof rule->name, "%s", name);
    snprintf(rule->statement, sizeof rule->statement, "%s", rt_column_text(query, STATEMENT));
    snprintf(rule->unit, sizeof rule->unit, "%s", rt_column_text(query, UNIT));
    return RT_OK;
}

static void read_parameter(const struct rt_query *query, struct rt_house_rules *rules)
{
    for (size_t i = 0; i < rules->count; i++) {
        struct rt_house_rule *rule = &rules->of[i];
        if (strcmp(rule->name, rt_column_text(query, 0)) != 0 || rule->parameter_count == RT_RULE_PARAMETERS)
            continue;
        struct rt_rule_parameter *parameter = &rule->parameters[rule->parameter_count++];
        snprintf(parameter->name, sizeof parameter->name, "%s", rt_column_text(query, 1));
        parameter->value = rt_column_real(query, 2);
        snprintf(parameter->unit, sizeof parameter->unit, "%s", rt_column_text(query, 3));
    }
}

enum rt_status rt_load_house_rules(struct rt_store *store, struct rt_house_rules *rules,
                                   struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *rules = (struct rt_house_rules){.count = 0};
    enum rt_status status = rt_query_open(store, "sql/queries/house-rules.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        status = read_rule(query, rules, error);
    rt_query_close(query);
    query = NULL;
    if (status == RT_OK)
        status = rt_query_open(store, "sql/queries/house-rule-parameters.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        read_parameter(query, rules);
    rt_query_close(query);
    return status;
}
