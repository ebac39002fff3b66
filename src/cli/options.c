#include "ridgetally/cli/options.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/number.h"
#include "ridgetally/cli/progress.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_OPTIONS = 64 };

static enum rt_status fail_use(const char *verb, struct rt_error *error)
{
    rt_error_remedy(error, "see `ridgetally %s --help`", verb);
    return RT_USE;
}

/* The option named by argument (up to an `=`), or count when there is none. */
static size_t find_option(const struct rt_option *options, size_t count, const char *argument)
{
    size_t length = strcspn(argument, "=");
    for (size_t i = 0; i < count; i++)
        if (strlen(options[i].name) == length && strncmp(options[i].name, argument, length) == 0)
            return i;
    return count;
}

static enum rt_status store_value(const struct rt_option *option, const char *text, struct rt_error *error)
{
    switch (option->kind) {
    case RT_OPTION_FLAG:
        *(bool *)option->value = true;
        return RT_OK;
    case RT_OPTION_TEXT:
        *(const char **)option->value = text;
        return text[0] != '\0' ? RT_OK : rt_fail(error, RT_USE, "%s needs a value", option->name);
    case RT_OPTION_DATE:
        *(int *)option->value = rt_parse_iso_date(text);
        return *(int *)option->value != RT_NO_DATE
                   ? RT_OK
                   : rt_fail(error, RT_USE, "%s needs a date such as 2026-03-31, not '%s'", option->name,
                             text);
    case RT_OPTION_INTEGER:
        return rt_parse_integer(text, option->value)
                   ? RT_OK
                   : rt_fail(error, RT_USE, "%s needs a whole number, not '%s'", option->name, text);
    case RT_OPTION_NUMBER:
        return rt_parse_number(text, option->value)
                   ? RT_OK
                   : rt_fail(error, RT_USE, "%s needs a number, not '%s'", option->name, text);
    }
    return RT_USE;
}

/* Take the option at argv[*at] and its value, moving *at to the last argument used. */
static enum rt_status take_option(int argc, char **argv, int *at, const struct rt_option *option,
                                  uint64_t bit, uint64_t *seen, struct rt_error *error)
{
    const char *equals = strchr(argv[*at], '=');
    const char *text = equals == NULL ? NULL : equals + 1;
    if ((*seen & bit) != 0)
        return rt_fail(error, RT_USE, "%s is given twice", option->name);
    *seen |= bit;
    if (option->kind == RT_OPTION_FLAG && text != NULL)
        return rt_fail(error, RT_USE, "%s takes no value", option->name);
    if (option->kind != RT_OPTION_FLAG && text == NULL) {
        if (*at + 1 >= argc)
            return rt_fail(error, RT_USE, "%s needs a value", option->name);
        text = argv[++*at];
    }
    return store_value(option, text, error);
}

static enum rt_status check_operands(size_t found, size_t least, size_t most, char **operands,
                                     struct rt_error *error)
{
    if (found > most)
        return rt_fail(error, RT_USE, "'%s' is one argument too many", operands[most]);
    if (found < least)
        return rt_fail(error, RT_USE, found == 0 ? "a file or name is missing" : "an argument is missing");
    return RT_OK;
}

enum rt_status rt_parse_options(int argc, char **argv, const struct rt_option *options, size_t count,
                                size_t least, size_t most, struct rt_operands *operands,
                                struct rt_error *error)
{
    uint64_t seen = 0;
    size_t found = 0;
    bool only_operands = false;
    enum rt_status status =
        count <= MOST_OPTIONS ? RT_OK : rt_fail(error, RT_USE, "too many options in the table");
    for (int i = 1; status == RT_OK && i < argc; i++) {
        if (only_operands || argv[i][0] != '-' || argv[i][1] == '\0') {
            argv[1 + found++] = argv[i]; /* never past i, so nothing unread is lost */
            continue;
        }
        only_operands = strcmp(argv[i], "--") == 0;
        if (only_operands)
            continue;
        size_t which = find_option(options, count, argv[i]);
        status = which == count
                     ? rt_fail(error, RT_USE, "there is no option %s", argv[i])
                     : take_option(argc, argv, &i, &options[which], UINT64_C(1) << which, &seen, error);
    }
    if (status == RT_OK)
        status = check_operands(found, least, most, argv + 1, error);
    if (operands != NULL)
        *operands = (struct rt_operands){argv + 1, found};
    return status == RT_OK ? RT_OK : fail_use(argv[0], error);
}

const char *rt_store_choice(const char *option)
{
    const char *variable = getenv("RIDGETALLY_STORE");
    if (option != NULL)
        return option;
    return variable != NULL && variable[0] != '\0' ? variable : "practice.db";
}

enum rt_status rt_open_chosen_store(const char *option, enum rt_store_access access, struct rt_store **store,
                                    struct rt_error *error)
{
    if (access == RT_STORE_WRITE)
        rt_catch_interrupts();
    enum rt_status status = rt_store_open(rt_store_choice(option), access, store, error);
    if (status == RT_OK && rt_store_notice(*store)[0] != '\0')
        fprintf(stderr, "ridgetally: %s\n", rt_store_notice(*store));
    if (status == RT_OK)
        rt_show_progress(*store);
    return status;
}
