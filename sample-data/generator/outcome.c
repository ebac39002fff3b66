/* Healing, loading and failure of one implant. */
#include "steps.h"

#include "ridgetally/base/date.h"

#include <math.h>

static void draw_healing(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                         struct rt_sample_implant *implant)
{
    int weeks = rt_sample_integer(random, 9, 16) + (implant->graft ? rt_sample_integer(random, 2, 10) : 0);
    int days_more = rt_sample_integer(random, 0, 6);
    int crown_days = rt_sample_integer(random, 14, 40);
    bool immediate = rt_sample_chance(random, 0.06);
    implant->never_loaded = rt_sample_chance(random, 0.008);
    int healed = implant->placed_on + 7 * weeks + days_more;
    if (implant->two_stage)
        implant->uncovered_on = rt_sample_working_day(healed);
    if (immediate && !implant->two_stage && implant->final_torque_ncm >= 35)
        implant->loaded_on = rt_sample_working_day(implant->placed_on + rt_sample_integer(random, 1, 6));
    else
        implant->loaded_on = rt_sample_working_day(healed + crown_days);
    if (implant->never_loaded)
        implant->uncovered_on = implant->loaded_on = RT_NO_DATE;
    if (implant->uncovered_on > settings->cut_day)
        implant->uncovered_on = RT_NO_DATE;
    if (implant->loaded_on > settings->cut_day)
        implant->loaded_on = RT_NO_DATE;
}

static int failure_day(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                       const struct rt_sample_patient *patient, const struct rt_sample_implant *implant)
{
    const struct rt_sample_truths *truths = &settings->truths;
    bool low = implant->final_torque_ncm < 20 && !implant->torque_capped;
    double logit = truths->early_logit + (low ? truths->log_odds_low_torque : 0) +
                   (patient->smoking == RT_CURRENT_SMOKER ? truths->log_odds_current_smoker : 0) +
                   patient->frailty;
    bool early = rt_sample_chance(random, rt_sample_logistic(logit));
    int early_day = rt_sample_integer(random, 12, 178);
    double years =
        rt_sample_waiting_time(random, truths->late_rate_per_year * rt_sample_exp(patient->frailty));
    if (early)
        return implant->placed_on + early_day;
    return years < 30 ? implant->placed_on + 181 + (int)(years * 365.25) : RT_NO_DATE;
}

void rt_sample_forget_later_steps(struct rt_sample_implant *implant, int last_seen)
{
    int end =
        implant->ended_on != RT_NO_DATE && implant->ended_on < last_seen ? implant->ended_on - 1 : last_seen;
    if (implant->uncovered_on != RT_NO_DATE && implant->uncovered_on > end)
        implant->uncovered_on = RT_NO_DATE;
    if (implant->loaded_on != RT_NO_DATE && implant->loaded_on > end)
        implant->loaded_on = RT_NO_DATE;
}

void rt_sample_draw_outcome(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                            const struct rt_sample_patient *patient, struct rt_sample_implant *implant)
{
    draw_healing(random, settings, implant);
    int last_seen = rt_sample_last_day(settings, patient);
    int failed = failure_day(random, settings, patient, implant);
    bool early_loaded = implant->loaded_on != RT_NO_DATE && implant->loaded_on < implant->placed_on + 84;
    /* nothing is drawn where it cannot happen, so that the sample stays as it is */
    if (early_loaded && settings->truths.early_loading_failure > 0 &&
        rt_sample_chance(random, settings->truths.early_loading_failure)) {
        int after = implant->loaded_on + rt_sample_integer(random, 30, 330);
        failed = failed == RT_NO_DATE || after < failed ? after : failed;
    }
    bool hidden = rt_sample_chance(random, settings->truths.failure_never_reported);
    double elective_years = rt_sample_waiting_time(random, 0.0015);
    int elective =
        elective_years < 30 ? implant->placed_on + 200 + (int)(elective_years * 365.25) : RT_NO_DATE;
    if (failed != RT_NO_DATE && failed <= settings->cut_day) {
        implant->ended_on = rt_sample_working_day(failed);
        /* a failure after the last visit is never heard of */
        implant->fate = hidden || implant->ended_on > last_seen ? RT_FAILED_UNREPORTED : RT_FAILED;
    }
    if (elective != RT_NO_DATE && elective < last_seen &&
        (implant->ended_on == RT_NO_DATE || elective < implant->ended_on)) {
        implant->ended_on = rt_sample_working_day(elective);
        implant->fate = RT_REMOVED_ELECTIVE;
    }
}
