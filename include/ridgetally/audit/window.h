/*
 * Films and the windows of time they are resolved to: months of 30.4375 days counted from a baseline event.
 *
 *   3 [2, 4.5)   6 [4.5, 9)   12 [9, 18)   24 [18, 30)   36 [30, 48)   60 [48, 72)
 *
 * One reading per implant and window: the nearest to the nominal month, then the earlier. A baseline film was
 * taken 0 to 30 days after placement, or from 30 days before to 60 days after loading; again the nearest
 * counts.
 */
#ifndef RIDGETALLY_AUDIT_WINDOW_H
#define RIDGETALLY_AUDIT_WINDOW_H

#include <stdbool.h>
#include <stddef.h>

#define RT_MONTH_DAYS 30.4375
#define RT_YEAR_DAYS  365.25

enum { RT_WINDOWS = 6, RT_YEAR_WINDOW = 2 /* the one of 12 months */ };

struct rt_window {
    int months;       /* nominal */
    double low, high; /* months, low in, high out */
};

/* The six windows in order. */
const struct rt_window *rt_windows(void);

/* First and last day of a window counted from event_day. */
int rt_window_first_day(const struct rt_window *window, int event_day);
int rt_window_last_day(const struct rt_window *window, int event_day);

/* The levels of one film day of an implant; a site not read is NaN. */
struct rt_film {
    int seen_on;
    int reader;   /* code of the reader */
    bool contact; /* first contact only, instead of the crest */
    double mesial_mm, distal_mm;
};

enum rt_baseline { RT_BASELINE_PLACEMENT, RT_BASELINE_LOADING };
enum { RT_BASELINES = 2 };

/* placement or loading */
const char *rt_baseline_name(enum rt_baseline baseline);

/* The baseline film among an implant's films (in order of days), NULL when there is none. */
const struct rt_film *rt_baseline_film(const struct rt_film *films, size_t count, enum rt_baseline baseline,
                                       int event_day);

/* The film that stands for the window, NULL when there is none. */
const struct rt_film *rt_window_film(const struct rt_film *films, size_t count,
                                     const struct rt_window *window, int event_day);

/* Values of both sites, their mean and the worse of them. The mean and the worse need both sites. */
struct rt_sites {
    double mesial, distal, mean, worse;
};
enum { RT_SITES = 4 };

/* mesial, distal, mean, worse, in the order of the struct. */
const char *rt_site_name(int site);
double rt_site_value(const struct rt_sites *sites, int site);

/* Level at `later` minus level at `baseline`, negative = crest lost; worse = the lower. All NaN when either
 * film is missing or their level kinds differ. */
struct rt_sites rt_crest_change(const struct rt_film *baseline, const struct rt_film *later);

/* max(0, -level), worse = the larger. All NaN when film is NULL. The two level kinds agree below the
 * platform. */
struct rt_sites rt_exposure(const struct rt_film *film);

#endif
