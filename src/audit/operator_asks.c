#include "operators.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/base/number.h"

#include <math.h>
#include <stdlib.h>

double ask_depth_error(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    (void)cohort;
    return (implant->blocked & RT_BLOCKS_DEPTH) != 0 ? NAN
                                                     : implant->achieved_depth_mm - implant->planned_depth_mm;
}

double ask_depth_distance(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    return fabs(ask_depth_error(cohort, implant));
}

double ask_within_half(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    double error = ask_depth_error(cohort, implant);
    if (isnan(error))
        return NAN;
    return labs(rt_hundredths(error)) <= 50 ? 1.0 : 0.0;
}

double ask_final_torque(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    (void)cohort;
    return (implant->blocked & RT_BLOCKS_STABILITY) != 0 ? NAN : implant->final_torque_ncm;
}

double ask_low_torque(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    double cut = rt_lowest_cut(&cohort->cuts.torque), torque = ask_final_torque(cohort, implant);
    if (isnan(torque) || isnan(cut))
        return NAN;
    bool below = rt_hundredths(torque) < rt_hundredths(cut);
    if (implant->final_torque_capped && below)
        return NAN; /* capped below the cut: low or not, nobody knows */
    return below ? 1.0 : 0.0;
}

double ask_early_failure(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    if (!rt_early_is_due(cohort, implant))
        return NAN;
    enum rt_early_state state = rt_early_state(cohort, implant);
    return state == RT_EARLY_UNKNOWN ? NAN : state == RT_EARLY_FAILED;
}

/* Classes 3 and 4 of either scale. */
double ask_soft_bone(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    (void)cohort;
    return implant->found.of == 0 ? NAN : implant->found.of >= 3;
}

double ask_current_smoker(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    (void)cohort;
    return implant->smoking < 0 ? NAN : implant->smoking == 2;
}

double ask_grafted(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    (void)cohort;
    return implant->graft == RT_ANSWER_MISSING ? NAN : implant->graft == RT_ANSWER_YES;
}

double ask_at_back(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    int region = rt_level_of(cohort, implant, RT_BY_REGION); /* 1 and 3 are the back of either jaw */
    return region == RT_NO_LEVEL ? NAN : (double)(region % 2);
}
