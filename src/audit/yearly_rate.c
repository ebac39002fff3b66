#include "ridgetally/audit/yearly_rate.h"

#include <math.h>

static bool is_used(const struct rt_film *film, int first_day, int last_day)
{
    return film->seen_on >= first_day && film->seen_on <= last_day && !isnan(film->mesial_mm) &&
           !isnan(film->distal_mm);
}

struct rt_yearly_rate rt_yearly_rate(const struct rt_film *films, size_t count, int first_day, int last_day,
                                     double error_mm)
{
    struct rt_yearly_rate rate = {.films = 0, .span_years = 0.0, .change_mm = NAN, .detectable_mm = NAN};
    const struct rt_film *latest = NULL, *earliest = NULL;
    double mean_time = 0.0, mean_level = 0.0, squares = 0.0, products = 0.0;
    for (size_t i = count; i-- > 0;)
        if (latest == NULL && is_used(&films[i], first_day, last_day))
            latest = &films[i];
    for (size_t i = 0; i < count && latest != NULL; i++) {
        if (!is_used(&films[i], first_day, last_day) || films[i].contact != latest->contact)
            continue;
        /* Welford's updates: level and time keep their digits whatever the day is counted from */
        const double time = (films[i].seen_on - latest->seen_on) / RT_YEAR_DAYS;
        const double level = (films[i].mesial_mm + films[i].distal_mm) / 2.0;
        const double apart = time - mean_time;
        rate.films++;
        mean_time += apart / (double)rate.films;
        mean_level += (level - mean_level) / (double)rate.films;
        squares += apart * (time - mean_time);
        products += apart * (level - mean_level);
        earliest = earliest == NULL ? &films[i] : earliest;
    }
    if (earliest == NULL || earliest->seen_on == latest->seen_on)
        return rate;
    rate.span_years = (latest->seen_on - earliest->seen_on) / RT_YEAR_DAYS;
    rate.change_mm = products / squares;
    rate.detectable_mm = 1.96 * error_mm / sqrt(squares);
    return rate;
}
