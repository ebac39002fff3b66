#include "ridgetally/audit/due.h"

#include "ridgetally/audit/case_labels.h"
#include "ridgetally/base/date.h"
#include "ridgetally/store/narrow.h"

#include <math.h>
#include <stdio.h>

enum { WORDS = 320 };

static void take_failures(struct rt_case_writer *writer, int from)
{
    for (size_t i = 0; i < writer->cohort->count; i++) {
        const struct rt_audit_implant *implant = &writer->cohort->implants[i];
        if (implant->removed_on == RT_NO_DATE || implant->removed_on < from)
            continue;
        char finding[WORDS], beside[WORDS] = "", day[11];
        snprintf(finding, sizeof finding, "lost %d days after placement on %s",
                 implant->removed_on - implant->placed_on, rt_format_iso_date(implant->placed_on, day));
        if (implant->loaded_on != RT_NO_DATE && implant->loaded_on <= implant->removed_on)
            snprintf(beside, sizeof beside, "loaded on %s", rt_format_iso_date(implant->loaded_on, day));
        else if (implant->loaded == RT_ANSWER_NO)
            snprintf(beside, sizeof beside, "before loading");
        rt_write_case(writer, RT_CASE_FAILURE, i, false, implant->removed_on, finding, beside);
    }
}

static const char *outcome_words(const struct rt_audit_implant *implant)
{
    return implant->removed_on != RT_NO_DATE                                      ? "lost"
           : implant->elective_on != RT_NO_DATE                                   ? "removed by choice"
           : implant->died_on != RT_NO_DATE                                       ? "patient died"
           : implant->loaded_on != RT_NO_DATE || implant->loaded == RT_ANSWER_YES ? "in place, loaded"
           : implant->loaded == RT_ANSWER_NO                                      ? "in place, not loaded"
                                             : "in place, loading not recorded";
}

static void take_low_torques(struct rt_case_writer *writer, int from)
{
    for (size_t i = 0; i < writer->cohort->count; i++) {
        const struct rt_audit_implant *implant = &writer->cohort->implants[i];
        if (implant->torque_class != 0 || implant->placed_on < from)
            continue;
        char finding[WORDS];
        snprintf(finding, sizeof finding, "final torque %.15g Ncm", implant->final_torque_ncm);
        rt_write_case(writer, RT_CASE_LOW_TORQUE, i, false, implant->placed_on, finding,
                      outcome_words(implant));
    }
}

static enum rt_status cases_shown(struct rt_store *store, const struct rt_period *period,
                                  struct rt_case_list *list, struct rt_error *error)
{
    struct rt_cohort cohort;
    struct rt_case_writer writer = {store, &cohort, list, error, RT_OK};
    writer.status = rt_load_cohort(store, period, &cohort, error);
    if (writer.status == RT_OK) {
        take_failures(&writer, rt_closing_start(period));
        take_low_torques(&writer, rt_closing_start(period));
        rt_write_contradictions(&writer, RT_CASE_EXCLUDED);
    }
    rt_sort_cases(list);
    rt_release_cohort(&cohort);
    return writer.status;
}

enum rt_status rt_audit_cases(struct rt_store *store, const struct rt_period *period,
                              const struct rt_audit_filters *filters, struct rt_case_list *list,
                              struct rt_error *error)
{
    enum rt_status status = rt_apply_filters(store, filters, error);
    if (status == RT_OK)
        status = cases_shown(store, period, list, error);
    enum rt_status widened = rt_widen_store(store, error);
    return status == RT_OK ? widened : status;
}
