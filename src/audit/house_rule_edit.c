#include "ridgetally/audit/house_rule_edit.h"

#include "ridgetally/audit/house_rules.h"
#include "ridgetally/base/number.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/clock.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { OLD_SIZE = 256 };

/* Columns of house-rules.sql that can be edited. */
static const struct {
    const char *name, *parameter;
    int column;
} fields[] = {{"smallest-difference", ":smallest_difference", 5},
              {"stated-value", ":stated_value", 6},
              {"largest-width", ":largest_width", 7},
              {"confounders", ":confounders", 9}};
enum { FIELDS = sizeof fields / sizeof fields[0], CONFOUNDERS = 3 };

/* What there is to edit: the present value as text, and its bounds where it is a parameter. */
struct found {
    bool rule, name, parameter;
    size_t field;
    char old[OLD_SIZE];
    double least, most;
};

static void number_text(double value, char *text, size_t size)
{
    snprintf(text, size, "%.15g", value);
}

static enum rt_status find_field(struct rt_store *store, const struct rt_rule_edit *edit, struct found *found,
                                 struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/house-rules.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        if (strcmp(rt_column_text(query, 0), edit->rule) != 0)
            continue;
        found->rule = true;
        for (size_t i = 0; i < FIELDS; i++) {
            if (strcmp(fields[i].name, edit->name) != 0 || rt_column_is_null(query, fields[i].column))
                continue;
            found->name = true;
            found->field = i;
            if (i == CONFOUNDERS)
                snprintf(found->old, sizeof found->old, "%s", rt_column_text(query, fields[i].column));
            else
                number_text(rt_column_real(query, fields[i].column), found->old, sizeof found->old);
        }
    }
    rt_query_close(query);
    return status;
}

static enum rt_status find_parameter(struct rt_store *store, const struct rt_rule_edit *edit,
                                     struct found *found, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/house-rule-parameters.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        if (strcmp(rt_column_text(query, 0), edit->rule) != 0 ||
            strcmp(rt_column_text(query, 1), edit->name) != 0)
            continue;
        found->name = found->parameter = true;
        number_text(rt_column_real(query, 2), found->old, sizeof found->old);
        found->least = rt_column_real(query, 5);
        found->most = rt_column_real(query, 6);
    }
    rt_query_close(query);
    return status;
}

static enum rt_status refuse(struct rt_error *error, const char *words)
{
    rt_error_remedy(error, "%s", words);
    return RT_USE;
}

/* The number to set, or NaN for confounders. */
static enum rt_status check_value(const struct rt_rule_edit *edit, const struct found *found, double *value,
                                  struct rt_error *error)
{
    bool known = true;
    *value = NAN;
    if (!found->rule) {
        rt_fail(error, RT_USE, "there is no house rule '%.60s'", edit->rule);
        return refuse(error, "`ridgetally rule` lists them");
    }
    if (!found->name) {
        rt_fail(error, RT_USE, "rule %s has nothing called '%.60s'", edit->rule, edit->name);
        return refuse(error, "`ridgetally rule NAME` shows what can be set");
    }
    if (!found->parameter && found->field == CONFOUNDERS) {
        rt_confounders_of(edit->value, &known);
        if (known && strlen(edit->value) < OLD_SIZE)
            return RT_OK;
        rt_fail(error, RT_USE, "'%.80s' names a fact that cannot be held equal", edit->value);
        return refuse(
            error,
            "name columns with commas between them: tissue_mm, smoking, density_planned, density_found, "
            "periodontitis, diabetes, graft, diameter_mm, length_mm");
    }
    if (!rt_parse_number(edit->value, value)) {
        rt_fail(error, RT_USE, "'%.60s' is not a number", edit->value);
        return refuse(error, "write it as 1.5; a share as 0.1");
    }
    if (found->parameter && !(*value >= found->least && *value <= found->most)) {
        rt_fail(error, RT_USE, "%s of rule %s lies from %.15g to %.15g", edit->name, edit->rule, found->least,
                found->most);
        return refuse(error, "check the number and its unit");
    }
    if (!found->parameter && strcmp(edit->name, "stated-value") != 0 && !(*value > 0.0)) {
        rt_fail(error, RT_USE, "%s of rule %s must be above 0", edit->name, edit->rule);
        return refuse(error, "check the number and its unit");
    }
    return RT_OK;
}

static enum rt_status write_value(struct rt_store *store, const struct rt_rule_edit *edit,
                                  const struct found *found, double value, struct rt_error *error)
{
    struct rt_query *query = NULL;
    const char *resource =
        found->parameter ? "sql/queries/house-rule-parameter-set.sql" : "sql/queries/house-rule-set.sql";
    enum rt_status status = rt_query_open(store, resource, &query, error);
    if (status != RT_OK)
        return status;
    rt_bind_text(query, ":rule", edit->rule);
    if (found->parameter) {
        rt_bind_text(query, ":name", edit->name);
        rt_bind_real(query, ":value", value);
    } else {
        rt_bind_text(query, ":origin", edit->origin);
        if (found->field == CONFOUNDERS)
            rt_bind_text(query, ":confounders", edit->value);
        else
            rt_bind_real(query, fields[found->field].parameter, value);
    }
    status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

static enum rt_status keep_change(struct rt_store *store, const struct rt_rule_edit *edit,
                                  const struct found *found, const char *new_value, struct rt_error *error)
{
    struct rt_query *query = NULL;
    char at[RT_CLOCK_BYTES];
    enum rt_status status = rt_query_open(store, "sql/queries/house-rule-changed.sql", &query, error);
    rt_bind_text(query, ":rule", edit->rule);
    rt_bind_text(query, ":name", edit->name);
    rt_bind_text(query, ":old", found->old);
    rt_bind_text(query, ":new", new_value);
    rt_bind_text(query, ":set_at", rt_clock(at));
    rt_bind_text(query, ":set_by", edit->set_by);
    rt_bind_text(query, ":origin", edit->origin);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

enum rt_status rt_edit_house_rule(struct rt_store *store, const struct rt_rule_edit *edit,
                                  struct rt_error *error)
{
    struct found found = {.least = NAN, .most = NAN};
    char new_value[OLD_SIZE];
    double value = NAN;
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = find_field(store, edit, &found, error);
    if (status == RT_OK)
        status = find_parameter(store, edit, &found, error);
    if (status == RT_OK)
        status = check_value(edit, &found, &value, error);
    if (isnan(value))
        snprintf(new_value, sizeof new_value, "%s", edit->value);
    else
        number_text(value, new_value, sizeof new_value);
    if (status == RT_OK && strcmp(new_value, found.old) == 0) {
        status = rt_fail(error, RT_USE, "%s of rule %s is %s already", edit->name, edit->rule, found.old);
        rt_error_remedy(error, "nothing was changed");
    }
    if (status == RT_OK)
        status = write_value(store, edit, &found, value, error);
    if (status == RT_OK)
        status = keep_change(store, edit, &found, new_value, error);
    if (status == RT_OK)
        status = rt_transaction_commit(store, error);
    if (status != RT_OK)
        rt_transaction_rollback(store);
    return status;
}
