#include "ridgetally/audit/audit.h"

#include "run_sections.h"

#include "ridgetally/audit/adjust_rows.h"
#include "ridgetally/audit/case_points.h"
#include "ridgetally/audit/info.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/progress.h"
#include "ridgetally/figure/standing_out.h"
#include "ridgetally/store/narrow.h"

/* What was looked at and what stands out: the first rows, which are known when all the others are there. */
static const char *const screening[] = {"comparisons", "comparisons_clear", "comparisons_named"};
enum { SCREENING = sizeof screening / sizeof screening[0] };

static void open_screening(struct rt_rows *rows)
{
    for (size_t i = 0; i < SCREENING; i++) {
        struct rt_figure row = rt_row_of(rows, "flow", screening[i], NULL);
        row.unit_of_analysis = "";
        rt_put_row(rows, &row);
    }
}

static enum rt_status count_screening(struct rt_figure_list *figures, struct rt_error *error)
{
    struct rt_standing_out out;
    const enum rt_status status = rt_find_standing_out(figures, &out, error);
    const size_t counts[SCREENING] = {out.screened, out.clear_count, out.named_count};
    for (size_t i = 0; status == RT_OK && i < SCREENING; i++)
        figures->rows[i].value = (double)counts[i];
    rt_release_standing_out(&out);
    return status;
}

/* All rows of all sections, adjusted and with their keys checked. data_hash: NULL when it is not known yet. */
static enum rt_status compute_figures(struct rt_store *store, const struct rt_cohort *cohort, bool filtered,
                                      const char *data_hash, struct rt_figure_list *figures,
                                      struct rt_error *error)
{
    struct rt_rows rows = {.list = figures, .error = error, .status = RT_OK};
    struct rt_earlier_changes changes = {.since = {{0}}};
    open_screening(&rows);
    rt_run_sections(store, cohort, RT_AS_IT_PAYS, &changes, &rows);
    rt_yardstick_figures(store, cohort, &changes, filtered, data_hash, &rows);
    for (int i = 0; i < RT_EARLIER_PERIODS; i++)
        rt_release_figures(&changes.since[i]);
    rt_precision_figures(store, cohort, &rows);
    if (rows.status == RT_OK)
        rows.status = rt_adjust_rows(figures, error);
    if (rows.status == RT_OK)
        rows.status = count_screening(figures, error);
    if (rows.status == RT_OK)
        rows.status = rt_check_row_keys(figures, error);
    return rows.status;
}

/* The store shows the records to be audited. */
static enum rt_status audit_shown(struct rt_store *store, const struct rt_period *period,
                                  const char *filter_words, bool without_resampling,
                                  struct rt_figure_list *figures, struct rt_case_series_list *cases,
                                  struct rt_audit_info *info, struct rt_error *error)
{
    struct rt_cohort cohort;
    enum rt_status status = rt_load_cohort(store, period, &cohort, error);
    cohort.without_resampling = without_resampling;
    if (status == RT_OK && info != NULL)
        status = rt_audit_info(store, &cohort, filter_words, info, error);
    if (status == RT_OK && figures != NULL)
        status = compute_figures(store, &cohort, filter_words[0] != '\0',
                                 info == NULL ? NULL : info->data_hash, figures, error);
    if (status == RT_OK && cases != NULL)
        status = rt_audit_case_points(&cohort, cases, error);
    if (status == RT_OK && cases != NULL)
        status = rt_reader_case_points(store, &cohort, cases, error);
    rt_release_cohort(&cohort);
    return status;
}

static enum rt_status run(struct rt_store *store, const struct rt_period *period,
                          const struct rt_audit_filters *filters, bool without_resampling,
                          struct rt_figure_list *figures, struct rt_case_series_list *cases,
                          struct rt_audit_info *info, struct rt_error *error)
{
    struct rt_text words = {0};
    rt_text_add(&words, "");
    rt_filter_words(filters, &words);
    enum rt_status status = rt_text_status(&words, error);
    if (status == RT_OK)
        status = rt_apply_filters(store, filters, error);
    if (status == RT_OK)
        status = audit_shown(store, period, words.bytes, without_resampling, figures, cases, info, error);
    rt_progress_end(rt_store_progress(store));
    enum rt_status widened = rt_widen_store(store, error);
    rt_text_release(&words);
    return status == RT_OK ? widened : status;
}

enum rt_status rt_audit_run(struct rt_store *store, const struct rt_period *period,
                            const struct rt_audit_filters *filters, struct rt_figure_list *figures,
                            struct rt_case_series_list *cases, struct rt_audit_info *info,
                            struct rt_error *error)
{
    return run(store, period, filters, false, figures, cases, info, error);
}

enum rt_status rt_figures_without_resampling(struct rt_store *store, const struct rt_period *period,
                                             const struct rt_audit_filters *filters,
                                             struct rt_figure_list *figures, struct rt_error *error)
{
    return run(store, period, filters, true, figures, NULL, NULL, error);
}
