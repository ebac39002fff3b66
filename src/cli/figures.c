#include "ridgetally/cli/figures.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/figure/catalogue.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

struct choices {
    const char *store, *form, *period;
    int from, to;
    bool catalogue, without_resampling;
    struct rt_audit_filters filters;
};

static enum rt_status check_choices(const struct choices *choices, struct rt_error *error)
{
    bool dates = choices->from != RT_NO_DATE || choices->to != RT_NO_DATE;
    if (strcmp(choices->form, "csv") != 0 && strcmp(choices->form, "json") != 0)
        return rt_fail(error, RT_USE, "--as is csv or json, not '%s'", choices->form);
    if (choices->period != NULL && dates)
        return rt_fail(error, RT_USE, "give either --period or --from and --to");
    return RT_OK;
}

enum rt_status rt_choose_period(struct rt_store *store, const char *quarter, int from, int to,
                                struct rt_period *period, struct rt_error *error)
{
    if (quarter != NULL) {
        if (rt_parse_quarter(quarter, &period->first_day, &period->last_day))
            return RT_OK;
        rt_fail(error, RT_USE, "'%s' is not a quarter", quarter);
        rt_error_remedy(error, "write it as 2026Q3, or give --from and --to");
        return RT_USE;
    }
    if (from != RT_NO_DATE && to != RT_NO_DATE) {
        *period = (struct rt_period){from, to};
    } else {
        enum rt_status status = rt_whole_period(store, period, error);
        if (status != RT_OK)
            return status;
        period->first_day = from != RT_NO_DATE ? from : period->first_day;
        period->last_day = to != RT_NO_DATE ? to : period->last_day;
    }
    if (period->first_day <= period->last_day)
        return RT_OK;
    rt_fail(error, RT_USE, "the period ends before it begins");
    rt_error_remedy(error, "--from must not be later than --to");
    return RT_USE;
}

static enum rt_status print_text(struct rt_text *text, struct rt_error *error)
{
    enum rt_status status = rt_text_status(text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text->bytes, text->length, error);
    return status;
}

/* The columns are a contract: which part of the records the rows are of is told beside them. */
static enum rt_status note_filters(const struct rt_audit_filters *filters, struct rt_error *error)
{
    struct rt_text words = {0}, note = {0};
    rt_filter_words(filters, &words);
    if (words.length > 0) {
        rt_text_add(&note, "ridgetally: only: ");
        rt_text_add_plain(&note, words.bytes);
        fprintf(stderr, "%s\n", note.failed ? "" : note.bytes);
    }
    enum rt_status status = rt_text_status(&words, error);
    if (status == RT_OK)
        status = rt_text_status(&note, error);
    rt_text_release(&words);
    rt_text_release(&note);
    return status;
}

static enum rt_status print_figures(struct rt_store *store, const struct choices *choices,
                                    struct rt_error *error)
{
    struct rt_period period;
    struct rt_figure_list figures = {0};
    struct rt_text text = {0};
    enum rt_status status =
        rt_choose_period(store, choices->period, choices->from, choices->to, &period, error);
    if (status == RT_OK)
        status = choices->without_resampling
                     ? rt_figures_without_resampling(store, &period, &choices->filters, &figures, error)
                     : rt_audit_run(store, &period, &choices->filters, &figures, NULL, NULL, error);
    if (status == RT_OK)
        status = note_filters(&choices->filters, error);
    if (status == RT_OK) {
        if (strcmp(choices->form, "json") == 0)
            rt_figures_to_json(&figures, &text);
        else
            rt_figures_to_csv(&figures, &text);
        status = print_text(&text, error);
    }
    rt_text_release(&text);
    rt_release_figures(&figures);
    return status;
}

static enum rt_status print_catalogue(struct rt_error *error)
{
    struct rt_text text = {0};
    rt_catalogue_to_csv(&text);
    enum rt_status status = print_text(&text, error);
    rt_text_release(&text);
    return status;
}

enum rt_status rt_figures_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {
        .form = "csv", .from = RT_NO_DATE, .to = RT_NO_DATE, .filters = rt_no_filters()};
    struct rt_store *store = NULL;
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &choices.store},
                                        {"--as", RT_OPTION_TEXT, &choices.form},
                                        {"--period", RT_OPTION_TEXT, &choices.period},
                                        {"--from", RT_OPTION_DATE, &choices.from},
                                        {"--to", RT_OPTION_DATE, &choices.to},
                                        {"--without-resampling", RT_OPTION_FLAG, &choices.without_resampling},
                                        {"--catalogue", RT_OPTION_FLAG, &choices.catalogue},
                                        RT_FILTER_OPTIONS(choices.filters)};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = check_choices(&choices, error);
    if (status != RT_OK)
        return status;
    if (choices.catalogue)
        return print_catalogue(error);
    status = rt_open_chosen_store(choices.store, RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = print_figures(store, &choices, error);
    rt_store_close(store);
    return status;
}
