#include "ridgetally/cli/rule.h"
#include "ridgetally/audit/house_rule_edit.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/store/query.h"

#include <stdio.h>
#include <string.h>

const char rt_rule_help[] =
    "Usage: ridgetally rule [NAME] [--store FILE]\n"
    "       ridgetally rule NAME --set WHAT=VALUE --by WHO [--origin TEXT] [--store FILE]\n"
    "\n"
    "Lists the house rules that the audit puts on trial, shows one with its numbers and every edit, or "
    "edits\n"
    "it. The rules are common practice, not standards. An edit is kept with its day; an audit says of a "
    "rule\n"
    "that was edited after the first audit that it cannot be compared with audits before.\n"
    "  --set WHAT=VALUE  a number of the rule, as `rule NAME` lists them; or smallest-difference (that\n"
    "                    matters; a share as 0.1), stated-value, largest-width (of the interval),\n"
    "                    confounders (columns held equal, with commas between them)\n"
    "  --by WHO          who sets it: initials will do, no patient's name\n"
    "  --origin TEXT     where the value comes from, a source or a reason; default: practice's own\n"
    "  --store FILE      the store; else RIDGETALLY_STORE, else practice.db\n";

struct choices {
    const char *store, *set, *by, *origin;
};

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
    ORIGIN
};

static void add_value(struct rt_text *text, const char *name, double value, const char *unit,
                      const char *words)
{
    rt_text_format(text, "  %s ", name);
    rt_text_add_number(text, value);
    if (strcmp(unit, "share") != 0 && unit[0] != '\0')
        rt_text_format(text, " %s", unit);
    rt_text_format(text, ": %s\n", words);
}

static void add_fields(const struct rt_query *query, struct rt_text *text)
{
    const char *unit = rt_column_text(query, UNIT);
    if (!rt_column_is_null(query, SMALLEST))
        add_value(text, "smallest-difference", rt_column_real(query, SMALLEST), unit,
                  "smallest difference that matters");
    if (!rt_column_is_null(query, STATED)) {
        add_value(text, "stated-value", rt_column_real(query, STATED), unit, "what the rule states");
        add_value(text, "largest-width", rt_column_real(query, WIDTH), unit,
                  "width the interval must stay under");
    }
    rt_text_add(text, "  confounders ");
    rt_text_add_plain(text, rt_column_text(query, CONFOUNDERS));
    rt_text_add(text, ": held equal\n");
}

static enum rt_status add_parameters(struct rt_store *store, const char *rule, struct rt_text *text,
                                     struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/house-rule-parameters.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        if (strcmp(rt_column_text(query, 0), rule) == 0)
            add_value(text, rt_column_text(query, 1), rt_column_real(query, 2), rt_column_text(query, 3),
                      rt_column_text(query, 4));
    rt_query_close(query);
    return status;
}

static enum rt_status add_changes(struct rt_store *store, const char *rule, struct rt_text *text,
                                  struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/house-rule-changes.sql", &query, error);
    rt_bind_text(query, ":rule", rule);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        rt_text_format(text, "  edited %s: ", rt_column_text(query, 3));
        rt_text_add_plain(text, rt_column_text(query, 0));
        rt_text_add(text, " from ");
        rt_text_add_plain(text, rt_column_text(query, 1));
        rt_text_add(text, " to ");
        rt_text_add_plain(text, rt_column_text(query, 2));
        rt_text_add(text, " by ");
        rt_text_add_plain(text, rt_column_text(query, 4));
        rt_text_add(text, " (");
        rt_text_add_plain(text, rt_column_text(query, 5));
        rt_text_add(text, rt_column_integer(query, 6, 0) != 0 ? "), after the first audit\n" : ")\n");
    }
    rt_query_close(query);
    return status;
}

/* One line a rule; with its numbers and edits when wanted is its name. */
static enum rt_status list(struct rt_store *store, const char *wanted, struct rt_text *text,
                           struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false, found = wanted == NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/house-rules.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char *name = rt_column_text(query, NAME);
        if (wanted != NULL && strcmp(wanted, name) != 0)
            continue;
        found = true;
        rt_text_add_plain(text, name);
        rt_text_add(text, ": ");
        rt_text_add_plain(text, rt_column_text(query, STATEMENT));
        rt_text_add(text, "\n");
        if (wanted == NULL)
            continue;
        add_fields(query, text);
        status = add_parameters(store, name, text, error);
        if (status == RT_OK)
            status = add_changes(store, name, text, error);
    }
    rt_query_close(query);
    if (status == RT_OK && !found) {
        status = rt_fail(error, RT_USE, "there is no house rule '%.60s'", wanted);
        rt_error_remedy(error, "`ridgetally rule` lists them");
    }
    return status;
}

static enum rt_status edit(struct rt_store *store, const char *rule, const struct choices *choices,
                           struct rt_error *error)
{
    char name[64];
    const char *equals = strchr(choices->set, '=');
    if (equals == NULL || equals == choices->set || (size_t)(equals - choices->set) >= sizeof name) {
        rt_fail(error, RT_USE, "--set: '%.60s' is not WHAT=VALUE", choices->set);
        rt_error_remedy(error, "for example --set wall=1.5");
        return RT_USE;
    }
    snprintf(name, sizeof name, "%.*s", (int)(equals - choices->set), choices->set);
    const struct rt_rule_edit change = {.rule = rule,
                                        .name = name,
                                        .value = equals + 1,
                                        .set_by = choices->by,
                                        .origin =
                                            choices->origin != NULL ? choices->origin : "practice's own"};
    return rt_edit_house_rule(store, &change, error);
}

static enum rt_status check_choices(const struct choices *choices, size_t names, struct rt_error *error)
{
    const bool any = choices->set != NULL || choices->by != NULL || choices->origin != NULL;
    const char *fault = names == 0 && any                             ? "which rule? its name comes first"
                        : any && choices->set == NULL                 ? "--by and --origin belong to --set"
                        : choices->set != NULL && choices->by == NULL ? "an edit needs --by WHO"
                                                                      : NULL;
    if (fault == NULL)
        return RT_OK;
    rt_fail(error, RT_USE, "%s", fault);
    rt_error_remedy(error, "see `ridgetally rule --help`");
    return RT_USE;
}

enum rt_status rt_rule_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.store = NULL};
    struct rt_operands operands = {NULL, 0};
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &choices.store},
                                        {"--set", RT_OPTION_TEXT, &choices.set},
                                        {"--by", RT_OPTION_TEXT, &choices.by},
                                        {"--origin", RT_OPTION_TEXT, &choices.origin}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 1, &operands, error);
    const char *rule = status == RT_OK && operands.count == 1 ? operands.items[0] : NULL;
    if (status == RT_OK)
        status = check_choices(&choices, operands.count, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(choices.store, choices.set != NULL ? RT_STORE_WRITE : RT_STORE_READ,
                                      &store, error);
    if (status == RT_OK)
        status = choices.set != NULL ? edit(store, rule, &choices, error) : list(store, rule, &text, error);
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK && text.length > 0)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
