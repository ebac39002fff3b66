#include "ridgetally/cli/due.h"

#include "ridgetally/audit/due.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/cli/key.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/output/due.h"
#include "ridgetally/page/page.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct choices {
    const char *store, *out, *form, *sheet, *key;
    int day;
    bool show;
    struct rt_audit_filters filters;
};

struct due {
    struct rt_case_list list;
    struct rt_figure_list figures;
    struct rt_audit_info info;
    struct rt_document document;
    struct rt_text filters, page, csv, numbers;
};

static void release(struct due *due)
{
    rt_release_cases(&due->list);
    rt_release_figures(&due->figures);
    rt_release_document(&due->document);
    rt_text_release(&due->filters);
    rt_text_release(&due->page);
    rt_text_release(&due->csv);
    rt_text_release(&due->numbers);
}

/* --- labels behind codes --------------------------------------------------------------------------------------- */

/* Give every case of the patient with this code the label. */
static enum rt_status relabel(struct rt_case_list *list, size_t from, const char *label,
                              struct rt_error *error)
{
    const char *code = list->of[from].patient;
    const char *copy = rt_arena_copy(&list->text, label);
    if (copy == NULL)
        return rt_fail_memory(error);
    for (size_t i = list->count; i-- > from;)
        if (strcmp(list->of[i].patient, code) == 0)
            list->of[i].patient = copy;
    return RT_OK;
}

static bool met_before(const struct rt_case_list *list, size_t at)
{
    for (size_t i = 0; i < at; i++)
        if (strcmp(list->of[i].patient, list->of[at].patient) == 0)
            return true;
    return false;
}

/* The number of patients that the sheet does not have is told; no label goes to stderr. */
static enum rt_status reveal(struct rt_store *store, const struct choices *choices, struct rt_case_list *list,
                             struct rt_error *error)
{
    struct rt_pseudonym_key key;
    bool needed = false;
    long unknown = 0;
    enum rt_status status = rt_choose_key(store, false, choices->key, &key, &needed, error);
    if (status == RT_OK && !needed) {
        rt_fail(error, RT_USE, "the patients of this store stand under the labels of the sheets");
        rt_error_remedy(error, "leave --reveal out");
        return RT_USE;
    }
    for (size_t i = 0; status == RT_OK && i < list->count; i++) {
        char *label = NULL;
        if (met_before(list, i))
            continue;
        status = rt_reveal(&key, choices->sheet, list->of[i].patient, &label, error);
        unknown += status == RT_OK && label == NULL;
        if (status == RT_OK && label != NULL)
            status = relabel(list, i, label, error);
        free(label);
    }
    if (status == RT_OK && unknown > 0)
        fprintf(stderr,
                "ridgetally: %ld of the patients listed are not in the sheet: they keep their codes\n",
                unknown);
    rt_sort_cases(list);
    return status;
}

/* --- writing ------------------------------------------------------------------------------------------------------- */

static enum rt_status compose(struct due *due, struct rt_error *error)
{
    const struct rt_audit_subject subject = {
        .info = &due->info, .filters = due->filters.bytes, .figures = &due->figures, .lists = &due->list};
    enum rt_status status = rt_plan_due(&subject, &due->document, error);
    if (status == RT_OK)
        status = rt_render_page(&due->document, NULL, &due->page, error);
    return status;
}

static enum rt_status write_one(const char *folder, const char *name, const struct rt_text *text,
                                struct rt_text *path, struct rt_error *error)
{
    rt_text_clear(path);
    rt_text_format(path, "%s/%s", folder, name);
    enum rt_status status = rt_text_status(path, error);
    return status == RT_OK ? rt_write_file(path->bytes, text->bytes, text->length, error) : status;
}

/* path becomes that of the page. */
static enum rt_status write_files(const struct due *due, const char *folder, struct rt_text *path,
                                  struct rt_error *error)
{
    struct rt_text made = {0};
    char day[11];
    rt_text_format(&made, "due-%s", rt_format_iso_date(due->info.last_day, day));
    enum rt_status status = rt_text_status(&made, error);
    folder = folder == NULL ? made.bytes : folder;
    if (status == RT_OK)
        status = rt_make_folder(folder, error);
    if (status == RT_OK)
        status = write_one(folder, "due.csv", &due->csv, path, error);
    if (status == RT_OK)
        status = write_one(folder, "due-figures.csv", &due->numbers, path, error);
    if (status == RT_OK)
        status = write_one(folder, "due.html", &due->page, path, error);
    rt_text_release(&made);
    return status;
}

static enum rt_status choose_day(struct rt_store *store, struct choices *choices, struct rt_error *error)
{
    struct rt_period period;
    if (choices->day != RT_NO_DATE)
        return RT_OK;
    enum rt_status status = rt_whole_period(store, &period, error);
    choices->day = status == RT_OK ? period.last_day : RT_NO_DATE;
    return status;
}

/* The list, its texts and, unless only the CSV is asked for, its page. */
static enum rt_status make(struct rt_store *store, const struct choices *choices, struct due *due,
                           struct rt_error *error)
{
    enum rt_status status =
        rt_due_run(store, choices->day, &choices->filters, &due->list, &due->figures, &due->info, error);
    if (status == RT_OK && choices->sheet != NULL)
        status = reveal(store, choices, &due->list, error);
    if (status != RT_OK)
        return status;
    rt_filter_words(&choices->filters, &due->filters);
    rt_cases_to_csv(&due->list, &due->csv);
    rt_figures_to_csv(&due->figures, &due->numbers);
    status = rt_text_status(&due->csv, error);
    if (status == RT_OK)
        status = rt_text_status(&due->numbers, error);
    if (status == RT_OK)
        status = rt_text_status(&due->filters, error);
    return status == RT_OK && choices->form == NULL ? compose(due, error) : status;
}

static enum rt_status run(struct rt_store *store, struct choices *choices, struct due *due,
                          struct rt_error *error)
{
    enum rt_status status = choose_day(store, choices, error);
    if (status == RT_OK)
        status = make(store, choices, due, error);
    if (status == RT_OK && choices->form != NULL)
        return rt_write_stream(stdout, due->csv.bytes, due->csv.length, error);
    struct rt_text path = {0};
    if (status == RT_OK)
        status = write_files(due, choices->out, &path, error);
    if (status == RT_OK)
        printf("%s\n", path.bytes);
    if (status == RT_OK)
        status = rt_write_stream(stdout, "", 0, error);
    if (status == RT_OK && choices->show)
        status = rt_open_page(path.bytes, error);
    rt_text_release(&path);
    return status;
}

enum rt_status rt_write_due(struct rt_store *store, const char *folder, struct rt_error *error)
{
    struct choices choices = {.out = folder, .day = RT_NO_DATE, .filters = rt_no_filters()};
    struct due due = {.list = {.of = NULL}};
    struct rt_text path = {0};
    enum rt_status status = choose_day(store, &choices, error);
    if (status == RT_OK)
        status = make(store, &choices, &due, error);
    if (status == RT_OK)
        status = write_files(&due, folder, &path, error);
    rt_text_release(&path);
    release(&due);
    return status;
}

static enum rt_status check_choices(const struct choices *choices, struct rt_error *error)
{
    if (choices->form != NULL && strcmp(choices->form, "csv") != 0)
        return rt_fail(error, RT_USE, "--as is csv, not '%s'", choices->form);
    if (choices->form != NULL && choices->out != NULL)
        return rt_fail(error, RT_USE, "give either --out or --as");
    if (choices->form != NULL && choices->show)
        return rt_fail(error, RT_USE, "--open is for the page, which --as does not write");
    if (choices->key != NULL && choices->sheet == NULL)
        return rt_fail(error, RT_USE, "--key is for --reveal");
    return RT_OK;
}

enum rt_status rt_due_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.day = RT_NO_DATE, .filters = rt_no_filters()};
    struct due due = {.list = {.of = NULL}};
    struct rt_store *store = NULL;
    const struct rt_option options[] = {
        {"--store", RT_OPTION_TEXT, &choices.store},  {"--as-of", RT_OPTION_DATE, &choices.day},
        {"--out", RT_OPTION_TEXT, &choices.out},      {"--as", RT_OPTION_TEXT, &choices.form},
        {"--reveal", RT_OPTION_TEXT, &choices.sheet}, {"--key", RT_OPTION_TEXT, &choices.key},
        {"--open", RT_OPTION_FLAG, &choices.show},    RT_FILTER_OPTIONS(choices.filters)};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = check_choices(&choices, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(choices.store, RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = run(store, &choices, &due, error);
    release(&due);
    rt_store_close(store);
    return status;
}
