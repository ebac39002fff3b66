#include "ridgetally/audit/meeting.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/number.h"
#include "ridgetally/base/text.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/meeting.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/store/query.h"

#include <limits.h>
#include <math.h>
#include <string.h>

const char rt_yardstick_help[] =
    "Usage: ridgetally yardstick [--store FILE]\n"
    "       ridgetally yardstick NAME --at-least N | --at-most N --from DATE --by WHO [--origin TEXT]\n"
    "       ridgetally yardstick NAME --withdraw --from DATE --by WHO [--origin TEXT]\n"
    "       ridgetally yardstick NAME --width N\n"
    "\n"
    "Lists the yardsticks with every target they ever had, or sets a target. A yardstick has no target until "
    "the\n"
    "practice sets one; the target in force on the first day of a period judges that period, so that a "
    "target set\n"
    "later does not change what was judged before. A yardstick is met or not met when the whole 95% interval "
    "says so.\n"
    "  --at-least N   met from N upwards; of a share 0.9 and 90% are the same\n"
    "  --at-most N    met from N downwards\n"
    "  --from DATE    the day from which the target holds; the same day again replaces it\n"
    "  --by WHO       who sets it: initials will do, no patient's name\n"
    "  --origin TEXT  where the number comes from, a source or a reason; default: practice's own\n"
    "  --withdraw     from that day on there is no target\n"
    "  --width N      how narrow the interval must be to answer the yardstick, for \"how many more\"\n"
    "  --store FILE   the store; else RIDGETALLY_STORE, else practice.db\n";

struct choices {
    const char *store, *at_least, *at_most, *by, *origin, *width;
    int from;
    bool withdraw;
};

/* A number as the listing shows it: shares with a % sign. */
static void add_number(struct rt_text *text, double value, const char *unit)
{
    bool share = strcmp(unit, "share") == 0;
    rt_text_add_number(text, share ? value * 100.0 : value);
    rt_text_add(text, share ? "%" : " ");
    rt_text_add(text, share ? "" : unit);
}

static enum rt_status add_targets(struct rt_store *store, const struct rt_yardstick *yardstick,
                                  struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false, any = false;
    enum rt_status status = rt_query_open(store, "sql/queries/yardstick-targets.sql", &query, error);
    rt_bind_text(query, ":name", yardstick->name);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        char from[11];
        any = true;
        rt_text_format(text, "  from %s: ", rt_format_iso_date(rt_column_date(query, 4), from));
        if (rt_column_is_null(query, 0)) {
            rt_text_add(text, "withdrawn");
        } else {
            rt_text_add(text, strcmp(rt_column_text(query, 1), "at_least") == 0 ? "at least " : "at most ");
            add_number(text, rt_column_real(query, 0), yardstick->unit);
        }
        rt_text_add(text, ", ");
        rt_text_add_plain(text, rt_column_text(query, 2));
        rt_text_add(text, " (");
        rt_text_add_plain(text, rt_column_text(query, 3));
        rt_text_add(text, ")\n");
    }
    if (!any)
        rt_text_add(text, "  no target set\n");
    rt_query_close(query);
    return status;
}

static enum rt_status list(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    enum rt_status status = rt_load_yardsticks(store, 0, &meeting, error);
    for (size_t i = 0; status == RT_OK && i < meeting.yardstick_count; i++) {
        const struct rt_yardstick *yardstick = &meeting.yardsticks[i];
        rt_text_add_plain(text, yardstick->name);
        rt_text_add(text, ": ");
        rt_text_add_plain(text, yardstick->statement);
        if (!isnan(yardstick->readable_width)) {
            rt_text_add(text, "; answered by an interval ");
            add_number(text, yardstick->readable_width, yardstick->unit);
            rt_text_add(text, " wide");
        }
        rt_text_add(text, "\n");
        status = add_targets(store, yardstick, text, error);
    }
    rt_release_meeting(&meeting);
    return status;
}

/* `0.9` or `90%`. */
static enum rt_status read_number(const char *option, const char *text, double *value, struct rt_error *error)
{
    char digits[64];
    size_t length = strlen(text);
    bool percent = length > 0 && text[length - 1] == '%';
    snprintf(digits, sizeof digits, "%.*s", (int)(length - percent > 60 ? 60 : length - percent), text);
    if (length - percent <= 60 && rt_parse_number(digits, value)) {
        *value = percent ? *value / 100.0 : *value;
        return RT_OK;
    }
    rt_fail(error, RT_USE, "%s: '%.60s' is not a number", option, text);
    rt_error_remedy(error, "write it as 0.9, 90%% or -1.5");
    return RT_USE;
}

static enum rt_status check_choices(const struct choices *choices, size_t names, struct rt_error *error)
{
    int changes = (choices->at_least != NULL) + (choices->at_most != NULL) + choices->withdraw +
                  (choices->width != NULL);
    bool dated = choices->from != RT_NO_DATE || choices->by != NULL || choices->origin != NULL;
    const char *fault = NULL;
    if (names == 0 && (changes > 0 || dated))
        fault = "which yardstick? its name comes first";
    else if (names == 1 && changes != 1)
        fault = "give one of --at-least, --at-most, --withdraw and --width";
    else if (choices->width != NULL && dated)
        fault = "--width goes alone";
    else if (names == 1 && choices->width == NULL && (choices->from == RT_NO_DATE || choices->by == NULL))
        fault = "a target needs --from DATE and --by WHO";
    if (fault == NULL)
        return RT_OK;
    rt_fail(error, RT_USE, "%s", fault);
    rt_error_remedy(error, "see `ridgetally yardstick --help`");
    return RT_USE;
}

static enum rt_status change(struct rt_store *store, const char *name, const struct choices *choices,
                             struct rt_error *error)
{
    double number = NAN;
    enum rt_status status = RT_OK;
    if (choices->width != NULL) {
        status = read_number("--width", choices->width, &number, error);
        return status == RT_OK ? rt_set_readable_width(store, name, number, error) : status;
    }
    if (choices->at_least != NULL)
        status = read_number("--at-least", choices->at_least, &number, error);
    else if (choices->at_most != NULL)
        status = read_number("--at-most", choices->at_most, &number, error);
    const struct rt_target target = {.set = !choices->withdraw,
                                     .value = number,
                                     .at_least = choices->at_least != NULL,
                                     .origin = choices->origin != NULL ? choices->origin : "practice's own",
                                     .set_by = choices->by,
                                     .valid_from = choices->from};
    return status == RT_OK ? rt_set_target(store, name, &target, error) : status;
}

enum rt_status rt_yardstick_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.from = RT_NO_DATE};
    struct rt_operands operands = {NULL, 0};
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &choices.store},
                                        {"--at-least", RT_OPTION_TEXT, &choices.at_least},
                                        {"--at-most", RT_OPTION_TEXT, &choices.at_most},
                                        {"--from", RT_OPTION_DATE, &choices.from},
                                        {"--by", RT_OPTION_TEXT, &choices.by},
                                        {"--origin", RT_OPTION_TEXT, &choices.origin},
                                        {"--withdraw", RT_OPTION_FLAG, &choices.withdraw},
                                        {"--width", RT_OPTION_TEXT, &choices.width}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 1, &operands, error);
    if (status == RT_OK)
        status = check_choices(&choices, operands.count, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(choices.store, operands.count == 0 ? RT_STORE_READ : RT_STORE_WRITE,
                                      &store, error);
    if (status == RT_OK)
        status = operands.count == 0 ? list(store, &text, error)
                                     : change(store, operands.items[0], &choices, error);
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK && text.length > 0)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
