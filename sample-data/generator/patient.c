/* Who the patients are, how many implants each gets, and when they leave. */
#include "steps.h"

#include "ridgetally/base/date.h"

int rt_sample_cluster_size(struct rt_sample_random *random)
{
    static const double weights[8] = {62, 22, 6.5, 5, 1.5, 1.5, 0.5, 1};
    return (int)rt_sample_choose(random, weights, 8) + 1;
}

struct rt_sample_patient rt_sample_draw_patient(struct rt_sample_random *random,
                                                const struct rt_sample_settings *settings, int number)
{
    static const double operators[RT_SAMPLE_OPERATORS] = {50, 32, 18};
    static const double smoking[3] = {62, 22, 16};
    const struct rt_sample_truths *truths = &settings->truths;
    struct rt_sample_patient patient = {.number = number, .death_reported = true};
    int days = settings->last_day - settings->first_day;
    /* the practice grows: later days are likelier */
    double when = rt_sample_uniform(random);
    double growth = 0.75 * when + 0.25 * (1 - (1 - when) * (1 - when));
    patient.first_day = rt_sample_working_day(settings->first_day + (int)(growth * days));
    if (patient.first_day > settings->last_day)
        patient.first_day = settings->last_day - 3;
    patient.operator_index = (int)rt_sample_choose(random, operators, RT_SAMPLE_OPERATORS);
    double age = rt_sample_normal(random, 56, 13);
    age = age < 20 ? 20 + (20 - age) / 4 : age > 86 ? 86 : age;
    patient.birth_year = rt_civil_date(patient.first_day).year - (int)age;
    double sex = rt_sample_uniform(random);
    patient.sex = sex < 0.53 ? "F" : sex < 0.995 ? "M" : "other";
    patient.smoking = (enum rt_sample_smoking)rt_sample_choose(random, smoking, 3);
    double diabetes = rt_sample_uniform(random);
    patient.diabetes = diabetes < 0.90 ? "none" : diabetes < 0.98 ? "controlled" : "uncontrolled";
    patient.periodontitis = rt_sample_chance(random, 0.38);
    patient.depth_effect_mm = rt_sample_normal(random, 0, truths->depth_patient_sd_mm);
    patient.torque_effect_ncm = rt_sample_normal(random, 0, truths->torque_patient_sd_ncm);
    patient.change_effect_mm = rt_sample_normal(random, 0, truths->change_patient_sd_mm);
    patient.frailty = rt_sample_normal(random, 0, truths->frailty_sd);
    patient.died_on = patient.moved_on = patient.lost_on = RT_NO_DATE;
    return patient;
}

static int day_after(int start, double years, int cut)
{
    return years * 365.25 < cut - start ? start + (int)(years * 365.25) : RT_NO_DATE;
}

void rt_sample_draw_departure(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                              struct rt_sample_patient *patient)
{
    const struct rt_sample_truths *truths = &settings->truths;
    int start = patient->first_day;
    int age = rt_civil_date(start).year - patient->birth_year;
    double death_rate = truths->death_per_year_at_60 * rt_sample_exp(0.08 * (age - 60));
    double death = rt_sample_waiting_time(random, death_rate);
    double moved = rt_sample_waiting_time(random, truths->moved_per_year);
    double lost = 0.5 + rt_sample_waiting_time(random, truths->lost_per_year);
    patient->death_reported = rt_sample_chance(random, 0.8);
    patient->died_on = day_after(start, death < 0.05 ? 0.05 : death, settings->cut_day);
    patient->moved_on = day_after(start, moved < 0.1 ? 0.1 : moved, settings->cut_day);
    patient->lost_on = day_after(start, lost, settings->cut_day);
}
