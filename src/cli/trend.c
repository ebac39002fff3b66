#include "ridgetally/cli/trend.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/open_page.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/page_files.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/output/trend.h"
#include "ridgetally/store/query.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* All that one trend needs and owns. */
struct work {
    struct rt_figure_list all, figures; /* of the audit, and of the page */
    struct rt_case_series_list all_cases, cases;
    struct rt_audit_info info;
    struct rt_document document;
    struct rt_page_files files;
    struct rt_text filters; /* in words */
    char *page, *csv;
};

static void release(struct work *work)
{
    rt_release_page_files(&work->files);
    rt_release_document(&work->document);
    rt_release_figures(&work->all);
    rt_release_figures(&work->figures);
    rt_release_case_series(&work->all_cases);
    rt_release_case_series(&work->cases);
    rt_text_release(&work->filters);
    free(work->page);
    free(work->csv);
}

/* Is there an operator of that label? RT_USE listing those there are. */
static enum rt_status check_operator(struct rt_store *store, const char *label, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text known = {0};
    bool row = false, found = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-operators.sql", &query, error);
    rt_text_add(&known, "");
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char *one = rt_column_text(query, 0);
        found = found || strcmp(one, label) == 0;
        rt_text_format(&known, "%s%s", known.length == 0 ? "" : ", ", one);
    }
    rt_query_close(query);
    if (status == RT_OK)
        status = rt_text_status(&known, error);
    if (status == RT_OK && !found) {
        status = rt_fail(error, RT_USE, "no operator %s is in the records", label);
        if (known.length > 0)
            rt_error_remedy(error, "operators are: %s", known.bytes);
        else
            rt_error_remedy(error, "no record names an operator");
    }
    rt_text_release(&known);
    return status;
}

static enum rt_status compose(struct work *work, const char *label, struct rt_error *drawing,
                              struct rt_error *error)
{
    const struct rt_audit_subject whole = {.info = &work->info,
                                           .filters = work->filters.bytes,
                                           .figures = &work->all,
                                           .cases = &work->all_cases};
    const struct rt_audit_subject one = {.info = &work->info,
                                         .filters = work->filters.bytes,
                                         .figures = &work->figures,
                                         .cases = &work->cases};
    char day[11];
    enum rt_status status = rt_trend_figures(&whole, label, &work->figures, &work->cases, error);
    const struct rt_figure key = {.section = "operators", .measure = "sessions", .at = 0.0 / 0.0};
    if (status == RT_OK && rt_find_figure(&work->figures, &key) == NULL) {
        status = rt_fail(error, RT_INPUT, "operator %s placed no implant up to %s that is looked at", label,
                         rt_format_iso_date(work->info.last_day, day));
        rt_error_remedy(error, "choose a later period, or fewer filters");
    }
    if (status == RT_OK)
        status = rt_plan_trend(&one, label, &work->document, error);
    if (status == RT_OK)
        status = rt_compose_page(&work->document, &work->figures, &work->files, NULL, NULL, drawing, error);
    return status;
}

static enum rt_status write_trend(struct rt_store *store, const struct rt_period *period,
                                  const struct rt_audit_filters *filters, const char *label,
                                  const char *folder, bool show, struct rt_error *error)
{
    struct work work = {.page = NULL};
    struct rt_error drawing = {0};
    rt_expect_charts(&work.files);
    enum rt_status status =
        rt_audit_run(store, period, filters, &work.all, &work.all_cases, &work.info, error);
    rt_filter_words(filters, &work.filters);
    if (status == RT_OK)
        status = compose(&work, label, &drawing, error);
    if (status == RT_OK)
        status = rt_write_page_files(&work.files, folder, "trend.html", &work.page, &work.csv, error);
    if (status == RT_OK) {
        printf("%s\n", work.page);
        status = rt_write_stream(stdout, "", 0, error);
    }
    if (status == RT_OK && drawing.status != RT_OK) {
        status = rt_fail(error, drawing.status, "the trend has no charts: %s", drawing.message);
        rt_error_remedy(error, "%s", drawing.remedy);
    }
    if (status == RT_OK && show)
        status = rt_open_page(work.page, error);
    release(&work);
    return status;
}

enum rt_status rt_trend_verb(int argc, char **argv, struct rt_error *error)
{
    const char *store_option = NULL, *quarter = NULL, *folder = "trend";
    int from = RT_NO_DATE, to = RT_NO_DATE;
    bool show = false;
    struct rt_audit_filters filters = rt_no_filters();
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &store_option},
                                        {"--period", RT_OPTION_TEXT, &quarter},
                                        {"--from", RT_OPTION_DATE, &from},
                                        {"--to", RT_OPTION_DATE, &to},
                                        {"--out", RT_OPTION_TEXT, &folder},
                                        {"--open", RT_OPTION_FLAG, &show},
                                        RT_FILTER_OPTIONS(filters)};
    struct rt_store *store = NULL;
    struct rt_period period;
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    /* --operator names whose page it is; the others stay, to be set beside */
    const char *label = filters.values[RT_FILTER_OPERATOR];
    filters.values[RT_FILTER_OPERATOR] = NULL;
    if (status == RT_OK && label == NULL)
        status = rt_fail(error, RT_USE, "say whose trend: --operator LABEL");
    if (status == RT_OK)
        status = rt_open_chosen_store(store_option, RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = check_operator(store, label, error);
    if (status == RT_OK)
        status = quarter == NULL && from == RT_NO_DATE && to == RT_NO_DATE
                     ? rt_default_period(store, &period, error)
                     : rt_choose_period(store, quarter, from, to, &period, error);
    if (status == RT_OK)
        status = write_trend(store, &period, &filters, label, folder, show, error);
    rt_store_close(store);
    return status;
}
