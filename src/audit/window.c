#include "ridgetally/audit/window.h"

#include <math.h>
#include <stdlib.h>

static const struct rt_window windows[RT_WINDOWS] = {{3, 2.0, 4.5},    {6, 4.5, 9.0},    {12, 9.0, 18.0},
                                                     {24, 18.0, 30.0}, {36, 30.0, 48.0}, {60, 48.0, 72.0}};

const struct rt_window *rt_windows(void)
{
    return windows;
}

int rt_window_first_day(const struct rt_window *window, int event_day)
{
    return event_day + (int)ceil(window->low * RT_MONTH_DAYS);
}

int rt_window_last_day(const struct rt_window *window, int event_day)
{
    return event_day + (int)ceil(window->high * RT_MONTH_DAYS) - 1;
}

const char *rt_baseline_name(enum rt_baseline baseline)
{
    return baseline == RT_BASELINE_PLACEMENT ? "placement" : "loading";
}

/* The film nearest to a day (which may lie between two days) from first_day to last_day, then the earlier. */
static const struct rt_film *nearest_film(const struct rt_film *films, size_t count, int first_day,
                                          int last_day, double wanted_day)
{
    const struct rt_film *nearest = NULL;
    for (size_t i = 0; i < count; i++) {
        if (films[i].seen_on < first_day || films[i].seen_on > last_day)
            continue;
        if (nearest == NULL || fabs(films[i].seen_on - wanted_day) < fabs(nearest->seen_on - wanted_day))
            nearest = &films[i];
    }
    return nearest;
}

const struct rt_film *rt_baseline_film(const struct rt_film *films, size_t count, enum rt_baseline baseline,
                                       int event_day)
{
    if (baseline == RT_BASELINE_PLACEMENT)
        return nearest_film(films, count, event_day, event_day + 30, event_day);
    return nearest_film(films, count, event_day - 30, event_day + 60, event_day);
}

const struct rt_film *rt_window_film(const struct rt_film *films, size_t count,
                                     const struct rt_window *window, int event_day)
{
    return nearest_film(films, count, rt_window_first_day(window, event_day),
                        rt_window_last_day(window, event_day), event_day + window->months * RT_MONTH_DAYS);
}

const char *rt_site_name(int site)
{
    static const char *const names[RT_SITES] = {"mesial", "distal", "mean", "worse"};
    return names[site];
}

double rt_site_value(const struct rt_sites *sites, int site)
{
    const double values[RT_SITES] = {sites->mesial, sites->distal, sites->mean, sites->worse};
    return values[site];
}

/* NaN in one of the two is NaN in what needs both; fmin and fmax would drop it. */
static bool both(double a, double b)
{
    return !isnan(a) && !isnan(b);
}

struct rt_sites rt_crest_change(const struct rt_film *baseline, const struct rt_film *later)
{
    struct rt_sites change = {NAN, NAN, NAN, NAN};
    if (baseline == NULL || later == NULL || baseline->contact != later->contact)
        return change;
    change.mesial = later->mesial_mm - baseline->mesial_mm;
    change.distal = later->distal_mm - baseline->distal_mm;
    if (both(change.mesial, change.distal)) {
        change.mean = (change.mesial + change.distal) / 2.0;
        change.worse = fmin(change.mesial, change.distal);
    }
    return change;
}

static double exposed(double level_mm)
{
    return isnan(level_mm) ? NAN : fmax(0.0, -level_mm);
}

struct rt_sites rt_exposure(const struct rt_film *film)
{
    struct rt_sites exposure = {NAN, NAN, NAN, NAN};
    if (film == NULL)
        return exposure;
    exposure.mesial = exposed(film->mesial_mm);
    exposure.distal = exposed(film->distal_mm);
    if (both(exposure.mesial, exposure.distal)) {
        exposure.mean = (exposure.mesial + exposure.distal) / 2.0;
        exposure.worse = fmax(exposure.mesial, exposure.distal);
    }
    return exposure;
}
