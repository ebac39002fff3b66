#include "ridgetally/cli/audit.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/audit/due.h"
#include "ridgetally/audit/judged.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/open_page.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/page_files.h"
#include "ridgetally/output/audit.h"
#include "ridgetally/store/query.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Keeping the figures in the store: written while the charts are drawn, in a transaction that ends when the page is there. */
struct recording {
    struct rt_store *store;
    bool begun;
    enum rt_status status;
    struct rt_error error;
};

/* All that one audit needs and owns. */
struct work {
    struct rt_figure_list figures;
    struct rt_case_series_list cases;
    struct rt_case_list lists;
    struct rt_audit_info info;
    struct rt_meeting meeting;
    struct rt_document document;
    struct rt_page_files files;
    struct rt_text filters; /* in words */
    bool records;           /* the figures are to be kept in the store */
    struct recording recording;
};

static void release(struct work *work)
{
    rt_release_page_files(&work->files);
    rt_release_document(&work->document);
    rt_release_figures(&work->figures);
    rt_release_meeting(&work->meeting);
    rt_release_case_series(&work->cases);
    rt_release_cases(&work->lists);
    rt_text_release(&work->filters);
}

/* The instant the records came to be what they are: the last load. The clock is not read, so that the same
 * records give the same store. */
static enum rt_status record(struct rt_store *store, const struct work *work, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/last-load.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK) {
        const char *loaded_at = row ? rt_column_text(query, 0) : NULL;
        status = rt_record_audit(store, &work->info, &work->figures,
                                 loaded_at != NULL ? loaded_at : "0001-01-01T00:00:00Z", error);
    }
    rt_query_close(query);
    return status;
}

static void start_recording(void *context)
{
    struct work *work = context;
    struct recording *recording = &work->recording;
    recording->status = rt_transaction_begin(recording->store, &recording->error);
    recording->begun = recording->status == RT_OK;
    if (recording->begun)
        recording->status = record(recording->store, work, &recording->error);
}

/* A failure to record is told after the page was written. */
static enum rt_status end_recording(struct recording *recording, enum rt_status page, struct rt_error *error)
{
    if (recording->begun && (page != RT_OK || recording->status != RT_OK))
        rt_transaction_rollback(recording->store);
    else if (recording->begun)
        return rt_transaction_commit(recording->store, error);
    if (page == RT_OK && recording->status != RT_OK)
        *error = recording->error;
    return page == RT_OK ? recording->status : page;
}

static enum rt_status compose(struct work *work, bool with_cases, struct rt_error *drawing,
                              struct rt_error *error)
{
    const struct rt_audit_subject subject = {
        &work->info,   work->filters.bytes, &work->figures, &work->cases, with_cases ? &work->lists : NULL,
        &work->meeting};
    enum rt_status status = rt_plan_audit(&subject, &work->document, error);
    if (status == RT_OK)
        status = rt_compose_page(&work->document, &work->figures, &work->files,
                                 work->records ? start_recording : NULL, work, drawing, error);
    return status;
}

static long count_missed(const struct rt_figure_list *figures)
{
    long missed = 0;
    for (size_t i = 0; i < figures->count; i++)
        missed += strcmp(figures->rows[i].measure, "yardstick_state") == 0 &&
                  figures->rows[i].value == (double)RT_NOT_MET;
    return missed;
}

enum rt_status rt_strictly(const struct rt_written_audit *written, struct rt_error *error)
{
    if (written->missed == 0)
        return RT_OK;
    rt_fail(error, RT_PARTIAL, "%ld yardstick%s not met", written->missed,
            written->missed == 1 ? " is" : "s are");
    rt_error_remedy(error, "the report says which and by how much");
    return RT_PARTIAL;
}

static char *default_folder(const struct rt_audit_info *info, bool part)
{
    struct rt_text folder = {0};
    char first[11], last[11];
    if (info->period_name[0] != '\0')
        rt_text_format(&folder, "audit-%s", info->period_name);
    else
        rt_text_format(&folder, "audit-%s-to-%s", rt_format_iso_date(info->first_day, first),
                       rt_format_iso_date(info->last_day, last));
    rt_text_add(&folder, part ? "-part" : "");
    return rt_text_detach(&folder);
}

enum rt_status rt_write_audit(struct rt_store *store, const struct rt_period *period,
                              const struct rt_audit_filters *filters, bool with_cases, const char *folder,
                              struct rt_written_audit *written, struct rt_error *error)
{
    struct work work = {.records = !rt_filters_given(filters), .recording = {.store = store}};
    struct rt_error drawing = {0};
    char *made = NULL;
    *written = (struct rt_written_audit){0};
    rt_expect_charts(&work.files);
    enum rt_status status =
        rt_audit_run(store, period, filters, &work.figures, &work.cases, &work.info, error);
    if (status == RT_OK && with_cases)
        status = rt_audit_cases(store, period, filters, &work.lists, error);
    if (status == RT_OK)
        status = rt_load_meeting(store, period, &work.meeting, error);
    rt_filter_words(filters, &work.filters);
    if (status == RT_OK)
        status = compose(&work, with_cases, &drawing, error);
    if (status == RT_OK && folder == NULL) {
        folder = made = default_folder(&work.info, rt_filters_given(filters));
        if (made == NULL)
            status = rt_fail_memory(error);
    }
    if (status == RT_OK)
        status =
            rt_write_page_files(&work.files, folder, "audit.html", &written->page, &written->figures, error);
    status = end_recording(&work.recording, status, error);
    written->missed = count_missed(&work.figures);
    if (status != RT_OK)
        rt_release_written_audit(written);
    if (status == RT_OK && drawing.status != RT_OK) {
        status = rt_fail(error, drawing.status, "the audit has no charts: %s", drawing.message);
        rt_error_remedy(error, "%s", drawing.remedy);
    }
    free(made);
    release(&work);
    return status;
}

void rt_release_written_audit(struct rt_written_audit *written)
{
    free(written->page);
    free(written->figures);
    *written = (struct rt_written_audit){0};
}

static enum rt_status choose(struct rt_store *store, const char *quarter, int from, int to,
                             struct rt_period *period, struct rt_error *error)
{
    bool dates = from != RT_NO_DATE || to != RT_NO_DATE;
    if (quarter != NULL && dates)
        return rt_fail(error, RT_USE, "give either --period or --from and --to");
    if (quarter == NULL && !dates)
        return rt_default_period(store, period, error);
    return rt_choose_period(store, quarter, from, to, period, error);
}

enum rt_status rt_audit_verb(int argc, char **argv, struct rt_error *error)
{
    const char *store_option = NULL, *quarter = NULL, *folder = NULL;
    int from = RT_NO_DATE, to = RT_NO_DATE;
    struct rt_audit_filters filters = rt_no_filters();
    bool strict = false, without_cases = false, show = false;
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &store_option},
                                        {"--period", RT_OPTION_TEXT, &quarter},
                                        {"--from", RT_OPTION_DATE, &from},
                                        {"--to", RT_OPTION_DATE, &to},
                                        {"--out", RT_OPTION_TEXT, &folder},
                                        {"--strict", RT_OPTION_FLAG, &strict},
                                        {"--open", RT_OPTION_FLAG, &show},
                                        {"--without-cases", RT_OPTION_FLAG, &without_cases},
                                        RT_FILTER_OPTIONS(filters)};
    struct rt_store *store = NULL;
    struct rt_period period;
    struct rt_written_audit written = {0};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(store_option, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = choose(store, quarter, from, to, &period, error);
    if (status == RT_OK)
        status = rt_write_audit(store, &period, &filters, !without_cases, folder, &written, error);
    if (written.page != NULL) {
        printf("%s\n", written.page);
        enum rt_status printed = rt_write_stream(stdout, "", 0, status == RT_OK ? error : NULL);
        status = status == RT_OK ? printed : status;
    }
    if (status == RT_OK && show)
        status = rt_open_page(written.page, error);
    if (status == RT_OK && strict)
        status = rt_strictly(&written, error);
    rt_release_written_audit(&written);
    rt_store_close(store);
    return status;
}
