#include "ridgetally/page/number.h"

#include "render.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/page/escape.h"

#include <math.h>
#include <string.h>

enum { PERCENT_FROM = 20 };

/* Half width of an interval up to which a share has decimals, in sentences and tables alike. */
static const double TENTHS_UP_TO = 0.02;

static bool is_share(const struct rt_figure *figure)
{
    return strcmp(figure->unit, "share") == 0;
}

/* A difference of two shares, a share that a difference is held against, or the width of a share's interval: in percentage
 * points, never in per cent. */
static bool is_difference(const struct rt_figure *figure)
{
    static const char change[] = "_change";
    const size_t length = strlen(figure->measure);
    const bool ends =
        length >= sizeof change && strcmp(figure->measure + length - (sizeof change - 1), change) == 0;
    return is_share(figure) &&
           (ends || strcmp(figure->measure, "wanted") == 0 || strstr(figure->measure, "difference") != NULL);
}

/* Failures per 100 implant-years: one decimal in sentences and tables alike, as the two stand side by side. */
static bool is_rate(const struct rt_figure *figure)
{
    return strncmp(figure->unit, "per 100 ", strlen("per 100 ")) == 0;
}

/* A number the practice set: shown as it was set. */
static bool is_set(const struct rt_figure *figure)
{
    return strcmp(figure->method, "setting") == 0 || strcmp(figure->method, "yardstick_target") == 0;
}

/* Whole percents unless the interval is narrow. A share without an interval has none to be read beside, except in a life
 * table, whose yearly shares are multiplied up. */
static bool is_whole(const struct rt_figure *figure)
{
    const double half_width = (figure->upper - figure->lower) / 2.0;
    if (!is_share(figure) || is_set(figure) ||
        (isnan(half_width) && strcmp(figure->method, "life_table") == 0))
        return false;
    return !(half_width <= TENTHS_UP_TO);
}

/* A measure may be of several units (outcomes of house rules are): no unit is given more decimals than mean anything. */
static int most_decimals(const struct rt_figure *figure)
{
    int most = is_whole(figure) ? 0 : is_share(figure) || strncmp(figure->unit, "Ncm", 3) == 0 ? 1 : 6;
    double shown = is_share(figure) ? 100.0 * figure->value : figure->value;
    if (is_set(figure))
        for (most = 0; most < 3 && fabs(shown - round(shown)) > 1e-9; most++)
            shown *= 10.0;
    return most;
}

struct rt_rounding rt_table_rounding(const struct rt_figure *figure)
{
    const struct rt_measure *measure = rt_find_measure(figure->section, figure->measure);
    const int decimals = measure == NULL ? 2 : measure->decimals, most = most_decimals(figure);
    return (struct rt_rounding){decimals < most ? decimals : most, is_share(figure), is_difference(figure)};
}

struct rt_rounding rt_sentence_rounding(const struct rt_figure *figure)
{
    struct rt_rounding rounding = rt_table_rounding(figure);
    double half_width = (figure->upper - figure->lower) / 2.0;
    if (rounding.percent || !(half_width > 0.0) || is_rate(figure))
        return rounding;
    double carried = ceil(-log10(half_width / 5.0));
    if (carried < rounding.decimals)
        rounding.decimals = carried > 0.0 ? (int)carried : 0;
    return rounding;
}

/* A share that is not exactly 0 or 1 but would round to it: "<1%", ">99.9%". */
static bool add_edge_share(struct rt_text *text, double share, int decimals)
{
    double step = pow(10.0, -decimals);
    if (share > 0.0 && share * 100.0 < step / 2.0)
        rt_text_format(text, "<%.*f%%", decimals, step);
    else if (share < 1.0 && share * 100.0 >= 100.0 - step / 2.0)
        rt_text_format(text, ">%.*f%%", decimals, 100.0 - step);
    else
        return false;
    return true;
}

void rt_add_rounded(struct rt_text *text, double value, struct rt_rounding rounding)
{
    double shown = rounding.percent ? value * 100.0 : value;
    if (rounding.percent && !rounding.points && add_edge_share(text, value, rounding.decimals))
        return;
    if (fabs(shown) < pow(10.0, -rounding.decimals) / 2.0)
        shown = 0.0;
    if (shown < 0.0)
        rt_text_add(text, "\u2212");
    rt_text_format(text, "%.*f%s", rounding.decimals, fabs(shown),
                   rounding.percent && !rounding.points ? "%" : "");
}

void rt_add_p_value(struct rt_text *text, double p)
{
    if (p < 0.001)
        rt_text_add(text, "<0.001");
    else if (p > 0.99)
        rt_text_add(text, ">0.99");
    else
        rt_text_format(text, "%.*f", p < 0.1 ? 3 : 2, p);
}

/* One number of a row, wrapped. shown: the text a reader sees, owned by the caller. */
static void add_element(struct rt_text *html, const struct rt_figure *figure, const char *column, double raw,
                        bool size, bool points, const struct rt_text *shown)
{
    struct rt_text key = {0};
    rt_add_figure_key(&key, figure);
    if (key.failed || shown->failed)
        html->failed = true;
    rt_html_add_raw(html, "<data class=\"figure\" value=\"");
    rt_text_add_number(html, raw);
    rt_html_add_raw(html, "\" data-figure=\"");
    rt_html_add(html, key.bytes);
    rt_html_add_raw(html, "\" data-part=\"");
    rt_html_add(html, column);
    rt_html_add_raw(html, size && points ? "\" data-form=\"size points\">"
                          : size         ? "\" data-form=\"size\">"
                          : points       ? "\" data-form=\"points\">"
                                         : "\">");
    rt_html_add(html, shown->bytes);
    rt_html_add_raw(html, "</data>");
    rt_text_release(&key);
}

static void add_number(struct rt_text *html, const struct rt_figure *figure, const char *column, double raw,
                       bool size, struct rt_rounding rounding)
{
    struct rt_text shown = {0};
    if (isnan(raw) && strcmp(column, "value") == 0) {
        rt_html_add_name(html, figure->remark[0] == '\0' ? "not reached" : figure->remark);
    } else if (isnan(raw)) {
        rt_html_add(html, "no limit"); /* an endless limit; the row's remark says why */
    } else {
        rt_add_rounded(&shown, size ? fabs(raw) : raw, rounding);
        add_element(html, figure, column, raw, size, rounding.points, &shown);
    }
    rt_text_release(&shown);
}

/* What a number of a difference of shares is of; its interval, which follows, goes without. */
static void add_points(struct rt_text *html, double raw, bool in_table, struct rt_rounding rounding)
{
    if (!rounding.points || isnan(raw))
        return;
    struct rt_text shown = {0};
    rt_add_rounded(&shown, fabs(raw), rounding);
    const bool one = !shown.failed && strcmp(shown.bytes, "1") == 0;
    rt_html_add(html, in_table ? " point" : " percentage point");
    rt_html_add(html, one ? "" : "s");
    rt_text_release(&shown);
}

static const char *state_words(enum rt_figure_state state)
{
    switch (state) {
    case RT_FIGURE_OK:
        return "";
    case RT_FIGURE_TOO_FEW:
        return "too few to say";
    case RT_FIGURE_UNDEFINED:
        return "cannot be computed";
    case RT_FIGURE_WITHHELD:
        return "withheld";
    }
    return "";
}

static void add_count(struct rt_text *html, const struct rt_figure *figure, const char *column, long count,
                      const char *noun, bool in_table)
{
    struct rt_text shown = {0};
    if (count == RT_NO_COUNT) {
        /* events are not counted where there are too few to say anything of them */
        const bool why = in_table && strcmp(column, "n_events") == 0;
        rt_html_add(html, why ? state_words(figure->state) : in_table ? "" : "no");
    } else {
        rt_text_format(&shown, "%ld", count);
        add_element(html, figure, column, (double)count, false, false, &shown);
    }
    if (!in_table && noun[0] != '\0') {
        rt_html_add(html, " ");
        rt_html_add(html, noun);
        rt_html_add(html, count == 1 ? "" : "s");
    }
    rt_text_release(&shown);
}

static void add_p(struct rt_text *html, const struct rt_figure *figure, const char *column, double p,
                  bool in_table)
{
    struct rt_text shown = {0};
    if (!isnan(p)) {
        rt_add_p_value(&shown, p);
        if (!in_table && shown.bytes != NULL && shown.bytes[0] == '0')
            rt_html_add(html, "= ");
        add_element(html, figure, column, p, false, false, &shown);
    }
    rt_text_release(&shown);
}

static void add_interval(struct rt_text *html, const struct rt_figure *figure, bool size,
                         struct rt_rounding rounding)
{
    bool swap = size && fabs(figure->lower) > fabs(figure->upper);
    add_number(html, figure, swap ? "upper" : "lower", swap ? figure->upper : figure->lower, size, rounding);
    rt_html_add(html, " to ");
    add_number(html, figure, swap ? "lower" : "upper", swap ? figure->lower : figure->upper, size, rounding);
}

bool rt_is_conservative(const struct rt_figure *figure)
{
    return figure->state == RT_FIGURE_OK && strstr(figure->method, "conservative") != NULL;
}

static void add_estimate(struct rt_text *html, const struct rt_figure *figure, struct rt_rounding rounding)
{
    add_number(html, figure, "value", figure->value, false, rounding);
    add_points(html, figure->value, true, rounding);
    if (isnan(figure->lower) && isnan(figure->upper))
        return;
    rt_html_add_raw(html, " <span class=\"interval\">(");
    add_interval(html, figure, false, rounding);
    rt_html_add_raw(html, rt_is_conservative(figure) ? ")*</span>" : ")</span>");
}

static void add_events_of(struct rt_text *html, const struct rt_figure *figure)
{
    if (figure->n_events == RT_NO_COUNT && figure->state != RT_FIGURE_OK) {
        rt_html_add(html, state_words(figure->state));
        return;
    }
    add_count(html, figure, "n_events", figure->n_events, "", false);
    rt_html_add(html, " of ");
    add_count(html, figure, "n_implants", figure->n_implants, "", false);
}

/* Parts that are counts; false when part is none. */
static bool add_count_part(struct rt_text *html, const struct rt_figure *figure, enum rt_slot_part part,
                           bool in_table)
{
    switch (part) {
    case RT_PART_IMPLANTS:
        add_count(html, figure, "n_implants", figure->n_implants, "implant", in_table);
        return true;
    case RT_PART_PATIENTS:
        add_count(html, figure, "n_patients", figure->n_patients, "patient", in_table);
        return true;
    case RT_PART_CASES:
        add_count(html, figure, "n_implants", figure->n_implants, "implant", in_table);
        if (in_table && figure->n_patients == RT_NO_COUNT)
            return true;
        rt_html_add(html, " (");
        add_count(html, figure, "n_patients", figure->n_patients, "patient", in_table);
        rt_html_add(html, ")");
        return true;
    case RT_PART_N:
        add_count(html, figure, "n_implants", figure->n_implants, "", in_table);
        return true;
    case RT_PART_EVENTS:
        add_count(html, figure, "n_events", figure->n_events, "", in_table);
        return true;
    case RT_PART_DUE:
        add_count(html, figure, "n_due", figure->n_due, "", in_table);
        return true;
    case RT_PART_EVENTS_OF:
        add_events_of(html, figure);
        return true;
    default:
        return false;
    }
}

static void add_number_part(struct rt_text *html, const struct rt_figure *figure, enum rt_slot_part part,
                            bool in_table)
{
    struct rt_rounding rounding = in_table ? rt_table_rounding(figure) : rt_sentence_rounding(figure);
    switch (part) {
    case RT_PART_VALUE:
    case RT_PART_SIZE:
        add_number(html, figure, "value", figure->value, part == RT_PART_SIZE, rounding);
        add_points(html, figure->value, in_table, rounding);
        break;
    case RT_PART_AMOUNT:
        add_number(html, figure, "value", figure->value, false, rounding);
        add_points(html, figure->value, in_table, rounding);
        if (!rounding.percent && !isnan(figure->value)) {
            rt_html_add(html, " ");
            rt_html_add(html, figure->unit);
        }
        break;
    case RT_PART_LOWER:
    case RT_PART_LOWER_SIZE:
        add_number(html, figure, "lower", figure->lower, part == RT_PART_LOWER_SIZE, rounding);
        break;
    case RT_PART_UPPER:
    case RT_PART_UPPER_SIZE:
        add_number(html, figure, "upper", figure->upper, part == RT_PART_UPPER_SIZE, rounding);
        add_points(html, figure->upper, in_table, rounding);
        break;
    case RT_PART_INTERVAL:
    case RT_PART_SIZES:
        add_interval(html, figure, part == RT_PART_SIZES, rounding);
        break;
    case RT_PART_ESTIMATE:
    case RT_PART_SHARE:
        add_estimate(html, figure, rounding);
        break;
    case RT_PART_P:
        add_p(html, figure, "p", figure->p, in_table);
        break;
    case RT_PART_P_ADJUSTED:
        add_p(html, figure, "p_adjusted", figure->p_adjusted, in_table);
        break;
    default:
        break;
    }
}

void rt_html_add_part(struct rt_text *html, const struct rt_figure *figure, enum rt_slot_part part,
                      bool in_table)
{
    if (add_count_part(html, figure, part, in_table))
        return;
    bool few = figure->state == RT_FIGURE_TOO_FEW || figure->n_implants < PERCENT_FROM;
    if (part == RT_PART_SHARE && few && figure->n_events != RT_NO_COUNT && figure->n_implants > 0)
        add_events_of(html, figure);
    else if (figure->state != RT_FIGURE_OK)
        rt_html_add(html, state_words(figure->state));
    else
        add_number_part(html, figure, part, in_table);
}
