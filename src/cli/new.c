#include "ridgetally/base/file.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/intake/form.h"

#include "ridgetally/base/date.h"

#include <stdio.h>
#include <unistd.h>

const char rt_new_help[] =
    "Usage: ridgetally new [--store FILE] [--sheets DIR] [--practice NAME] [--complete-since DATE]\n"
    "                      [--primary-reader CODE]\n"
    "\n"
    "Makes an empty store (mode 0600). An existing file is never touched.\n"
    "  --store FILE           the store to make; else RIDGETALLY_STORE, else practice.db\n"
    "  --sheets DIR           also write implants.csv, followups.csv and events.csv with their header\n"
    "                         lines, and codes.txt, which says what to type into them\n"
    "  --practice NAME        the name printed on every page\n"
    "  --complete-since DATE  from this day on every placement is in the records\n"
    "  --primary-reader CODE  the reader whose first readings are analysed\n";

struct settings {
    const char *practice;
    const char *primary_reader;
    int complete_since;
};

static enum rt_status sheet_path(const char *folder, const char *name, const char *ending,
                                 struct rt_text *path, struct rt_error *error)
{
    rt_text_clear(path);
    rt_text_format(path, "%s/%s%s", folder, name, ending);
    return rt_text_status(path, error);
}

static enum rt_status refuse_existing(const char *path, struct rt_error *error)
{
    if (access(path, F_OK) != 0)
        return RT_OK;
    rt_fail(error, RT_USE, "there is a file of this name already");
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "it was left as it is; choose another folder with --sheets DIR");
    return RT_USE;
}

static enum rt_status check_sheets(const char *folder, struct rt_error *error)
{
    struct rt_text path = {0};
    enum rt_status status = sheet_path(folder, "codes", ".txt", &path, error);
    if (status == RT_OK)
        status = refuse_existing(path.bytes, error);
    for (size_t k = 0; status == RT_OK && k < RT_RECORD_KINDS; k++) {
        status = sheet_path(folder, rt_form((enum rt_record_kind)k)->name, ".csv", &path, error);
        if (status == RT_OK)
            status = refuse_existing(path.bytes, error);
    }
    rt_text_release(&path);
    return status;
}

static enum rt_status write_text(const char *path, const struct rt_text *text, struct rt_error *error)
{
    enum rt_status status = rt_text_status(text, error);
    return status == RT_OK ? rt_write_file(path, text->bytes, text->length, error) : status;
}

static enum rt_status write_sheets(const char *folder, struct rt_error *error)
{
    struct rt_text path = {0};
    struct rt_text text = {0};
    enum rt_status status = rt_make_folder(folder, error);
    for (size_t k = 0; status == RT_OK && k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        rt_text_clear(&text);
        rt_form_header(form, &text);
        status = sheet_path(folder, form->name, ".csv", &path, error);
        if (status == RT_OK)
            status = write_text(path.bytes, &text, error);
    }
    rt_text_clear(&text);
    rt_code_list(&text);
    if (status == RT_OK)
        status = sheet_path(folder, "codes", ".txt", &path, error);
    if (status == RT_OK)
        status = write_text(path.bytes, &text, error);
    rt_text_release(&path);
    rt_text_release(&text);
    return status;
}

static enum rt_status set(struct rt_store *store, const char *name, const char *value, struct rt_error *error)
{
    return value == NULL ? RT_OK : rt_set_setting(store, name, value, error);
}

static enum rt_status apply_settings(const char *path, const struct settings *settings,
                                     struct rt_error *error)
{
    char date[11];
    struct rt_store *store = NULL;
    bool none = settings->practice == NULL && settings->primary_reader == NULL &&
                settings->complete_since == RT_NO_DATE;
    enum rt_status status = none ? RT_OK : rt_store_open(path, RT_STORE_WRITE, &store, error);
    if (none || status != RT_OK)
        return status;
    status = set(store, "practice_name", settings->practice, error);
    if (status == RT_OK)
        status = set(store, "primary_reader", settings->primary_reader, error);
    if (status == RT_OK && settings->complete_since != RT_NO_DATE)
        status = set(store, "complete_since", rt_format_iso_date(settings->complete_since, date), error);
    rt_store_close(store);
    return status;
}

enum rt_status rt_new_verb(int argc, char **argv, struct rt_error *error)
{
    const char *store = NULL;
    const char *sheets = NULL;
    struct settings settings = {.complete_since = RT_NO_DATE};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &store},
                                        {"--sheets", RT_OPTION_TEXT, &sheets},
                                        {"--practice", RT_OPTION_TEXT, &settings.practice},
                                        {"--primary-reader", RT_OPTION_TEXT, &settings.primary_reader},
                                        {"--complete-since", RT_OPTION_DATE, &settings.complete_since}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK && sheets != NULL)
        status = check_sheets(sheets, error);
    if (status == RT_OK)
        status = rt_store_create(rt_store_choice(store), error);
    if (status == RT_OK)
        status = apply_settings(rt_store_choice(store), &settings, error);
    if (status == RT_OK && sheets != NULL)
        status = write_sheets(sheets, error);
    struct rt_text text = {0};
    rt_text_format(&text, "%s: an empty store\n", rt_store_choice(store));
    if (sheets != NULL)
        rt_text_format(&text, "%s: implants.csv, followups.csv and events.csv to type into, and codes.txt\n",
                       sheets);
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    return status;
}
