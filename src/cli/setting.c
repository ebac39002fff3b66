#include "ridgetally/base/file.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/store/store.h"

#include <stdlib.h>
#include <string.h>

const char rt_setting_help[] =
    "Usage: ridgetally setting [NAME [VALUE]] [--store FILE]\n"
    "\n"
    "Lists the settings of the practice, shows one, or changes it ('' clears it):\n"
    "practice_name, complete_since, recall_interval_months, primary_reader, deck_threshold.\n"
    "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n";

static enum rt_status add_value(struct rt_store *store, const char *name, struct rt_text *text,
                                struct rt_error *error)
{
    char *value = NULL;
    enum rt_status status = rt_setting(store, name, &value, error);
    rt_text_add_plain(text, value);
    rt_text_add(text, "\n");
    free(value);
    return status;
}

static enum rt_status list_settings(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    size_t count = 0;
    enum rt_status status = RT_OK;
    const struct rt_setting_entry *entries = rt_settings(&count);
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        rt_text_format(text, "%s: %s\n  ", entries[i].name, entries[i].meaning);
        status = add_value(store, entries[i].name, text, error);
    }
    return status;
}

static enum rt_status show_setting(struct rt_store *store, const char *name, struct rt_text *text,
                                   struct rt_error *error)
{
    size_t count = 0;
    const struct rt_setting_entry *entries = rt_settings(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(entries[i].name, name) == 0)
            return add_value(store, name, text, error);
    rt_fail(error, RT_USE, "there is no setting '%s'", name);
    rt_error_remedy(error, "`ridgetally setting` lists them");
    return RT_USE;
}

enum rt_status rt_setting_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    struct rt_operands operands = {NULL, 0};
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &path}};
    enum rt_status status = rt_parse_options(argc, argv, options, 1, 0, 2, &operands, error);
    if (status == RT_OK)
        status =
            rt_open_chosen_store(path, operands.count == 2 ? RT_STORE_WRITE : RT_STORE_READ, &store, error);
    if (status == RT_OK && operands.count == 2)
        status = rt_change_setting(store, operands.items[0], operands.items[1], error);
    else if (status == RT_OK && operands.count == 1)
        status = show_setting(store, operands.items[0], &text, error);
    else if (status == RT_OK)
        status = list_settings(store, &text, error);
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK && text.length > 0)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
