/*
 * The catalogue of figures: what each measure is, how it is shown, by which formula, from which source. The
 * method appendix and `figures --catalogue` print it; every row that audit makes names a measure of it.
 *
 * KEYS. A row's key is (section, measure, grouping, level, at, baseline, site, unit_of_analysis).
 *
 * Groupings joined with `|` have levels joined with `|` in the same order. A part that comes first:
 *   window     which records the row is about, by the period [D1, D2]:
 *              `period`         implants placed in the period (depth, stability), failures in it (survival)
 *              `12 months`      the same for the 12 months ending with D2; crest and early failure: windows of time
 *                               that closed in those 12 months (a longer period counts whole), read or not
 *              `all`            everything to D2
 *   censoring  how the end of follow-up is taken (survival):
 *              `last sighting`  an implant counts until it was last seen
 *              `recall`         until the cut, or the last sighting plus the recall interval, if earlier
 *              `worst case`     the lost fail the day after their last sighting
 *              `best case`      the lost are event-free to the cut
 * Every row of depth, stability and crest has a window part; rows of survival have a censoring or a window part.
 *
 * The other groupings and their levels (the cuts are rows of the store; these are the ones it starts with):
 *   operator        the practice's own operator labels
 *   density_found   D1 D2 D3 D4, LZ1 LZ2 LZ3 LZ4 (two scales, never pooled)
 *   density_scale   D, LZ (a figure over all classes of one scale)
 *   region          upper front, upper back, lower front, lower back (front = canine to canine)
 *   depth_class     the labels of the cuts in the store, first: <0 mm, 0 to <1 mm, 1 to 2 mm, >2 mm (achieved)
 *   tissue_class    <2 mm, 2 to <3 mm, >=3 mm
 *   torque_class    <20 Ncm, 20 to <35 Ncm, 35 to <50 Ncm, >=50 Ncm (final torque)
 *   smoking         never former current
 *   year            year of placement, 2021
 *   status          see the measure
 *   outcome         see the measure
 *   reason          see the measure
 *   section         depth stability crest (what a contradiction leaves an implant out of)
 *   field           a column of implants.csv
 *   term            intercept, a column name, category=level, or two joined with ` x ` (models)
 *   cause           failure death elective loading
 *   quarter         of placement, 2026Q2 (operators); year_to: the 12 months that end with it
 *   chart           single sessions, moving average, more failures, fewer failures (operators); lower and upper of measures
 *                   signal and depth_moving_average are the limits of the chart, not an interval of the value
 *   fitted_to       ISO day of the last records an expectation was fitted to
 *   reference       what failures are compared with: the other operators, own first sessions, the target, no baseline
 *   reader          the practice's own reader codes; `reader|other_reader` two readers of the same films, in order
 *   comparison      the grouping whose levels are compared: operator density_found=D density_found=LZ
 *                   torque_class depth_class smoking
 *   yardstick       the name of a yardstick
 *   change          the earlier period: `last period`, `a year ago`; of as_printed and restated also `this period`
 *   figure          the name of a compared figure (audit/compared.h)
 *   note            the number of a note
 *   question        the name of a yardstick or a house rule
 * Missing values of a grouping are in no level; a row with level `not recorded` gives their number where any
 * are.
 *
 * at         crest windows: nominal months 3 6 12 24 36 60; crest_dose_response: mm of depth; operators: number of the
 *            session, of the implant, or patients, see at_unit; survival: years
 *            (days / 365.25); otherwise empty
 * baseline   placement or loading for crest rows (the event the windows are counted from), otherwise empty
 * site       mesial distal mean worse for crest rows, otherwise empty
 * unit_of_analysis  `implant` (the implant average, primary) or `patient` (the patient average, or any
 * implant of the patient); never empty but for counts that are of neither
 *
 * COUNTS. n_implants and n_patients are those the number rests on; n_due is how many should have had the
 * measurement; n_events how many had the event. In a count row value equals the count.
 *
 * STATES. Fewer than 10 patients: too_few, no value. A share over fewer than 20 implants: too_few, no value;
 * n_events and n_implants give n/N. A model with fewer than 5 patients with events: too_few. Rows of survival_curve are
 * too_few where fewer than 10 patients are at risk, but keep their value, to be drawn grey.
 */
#ifndef RIDGETALLY_FIGURE_CATALOGUE_H
#define RIDGETALLY_FIGURE_CATALOGUE_H

#include "ridgetally/base/text.h"

#include <stddef.h>

/* One measure. All text is static and never NULL. */
struct rt_measure {
    const char *section;
    const char *name;
    const char *label;   /* plain words, no capital, fits a table head */
    const char *unit;    /* of value, lower, upper; `share` is 0..1 and shown as a percentage */
    int decimals;        /* digits shown after the point (of the percentage for shares) */
    const char *at_unit; /* months, years, mm or empty */
    const char *outcome; /* family of comparisons: p is adjusted over (section, outcome) */
    const char *method;  /* key of the usual method; a row's own method key wins */
    const char *formula; /* in words or plain mathematics */
    const char *source;  /* published source of the formula, or `ours` */
};

/* One method, named by the `method` cell of rows. */
struct rt_method {
    const char *key;
    const char *label;  /* a few words for the line under a chart */
    const char *words;  /* what is done, one or two sentences */
    const char *source; /* published source, or `ours` */
};

/* A grouping in words: depth_class -> `depth class, mm below the crest`. */
struct rt_grouping {
    const char *name;
    const char *label;
};

/* All measures, in the order of sections; *count receives how many. */
const struct rt_measure *rt_measures(size_t *count);

/* The measure of that section and name, or NULL. */
const struct rt_measure *rt_find_measure(const char *section, const char *name);

/* All methods; *count receives how many. */
const struct rt_method *rt_methods(size_t *count);

/* The method with that key, or NULL. */
const struct rt_method *rt_find_method(const char *key);

/* The words for one grouping (one part of a joined name), or NULL. */
const struct rt_grouping *rt_find_grouping(const char *name);

/* Add the catalogue to text as CSV:
 * section,measure,label,unit,decimals,at_unit,outcome,method,formula,source, one row per measure in catalogue
 * order. */
void rt_catalogue_to_csv(struct rt_text *text);

/* The case series audit makes (figure/case_series.h), by name:
 *   depth_agreement   x = mean of planned and achieved depth, y = achieved - planned (mm); group = operator;
 *                     implants placed in the 12 months ending with the period
 *   depth_error       x = 0, y = achieved - planned (mm); group = operator; the same implants
 *   torque_density    x = number of the class (1..4), y = final torque (Ncm, censored = cap reached);
 *                     group = density found (D2, LZ3); the same 12 months
 *   crest_change      x = achieved depth (mm), y = crest change at 12 months from placement, mean of both
 *                     sites (mm); group = depth_class|tissue_class; windows closed in the 12 months
 *   session_depth     x = number of the session among the operator's, y = its mean of achieved - planned depth (mm); group =
 *                     operator; all records
 *   crest_change_all  the same over all records to the end of the period
 *   rule_sum          x = tissue height plus achieved depth (mm), y = crest change as above; no group; all records
 *   rule_wall         x = thinner of the two walls (mm), y = crest change as above; no group; all records
 *   rule_travel       x = travel after a stall (mm), y = final minus stall torque (Ncm, censored = cap reached); no group;
 *                     all records
 *   reread            x = mean of the first two readings of a film by one reader, y = second - first (mm, mean of both sites);
 *                     group = reader; all records
 *   two_readers       the same of the first reading of two readers, y = second in order of names minus first; the two who
 *                     share most films; group = both names
 */

#endif
