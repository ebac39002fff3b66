/*
 * Figure rows into text: rounding, percentages, and the element that names the row of each number.
 *
 * Every number is written as
 *     <data class="figure" value="RAW" data-figure="KEY" data-part="PART">TEXT</data>
 * RAW is the number as the figures output prints it; KEY is rt_add_figure_key's; PART is the column of the figures
 * output. data-form="size" says that TEXT is the number without its sign, because words say the direction; "points"
 * that it is the number times 100, in percentage points; both may stand.
 */
#ifndef RIDGETALLY_PAGE_NUMBER_H
#define RIDGETALLY_PAGE_NUMBER_H

#include "ridgetally/base/text.h"
#include "ridgetally/figure/document.h"
#include "ridgetally/figure/figure.h"

#include <stdbool.h>

/* How the numbers of a row are written. */
struct rt_rounding {
    int decimals;
    bool percent; /* times 100, with a % sign */
    bool points;  /* times 100 without one: a difference of shares, followed by "percentage points" */
};

/* For tables: the measure's own decimals; a share has whole percents unless the half width of its interval is at most 2
 * points. A number that the practice set is shown as it was set. */
struct rt_rounding rt_table_rounding(const struct rt_figure *figure);

/* For sentences: no more decimals than the interval can carry. A step in the last digit is at least a fifth of the
 * interval's half width. Shares, and rows without an interval, as in tables: what stands on page one stands there too. */
struct rt_rounding rt_sentence_rounding(const struct rt_figure *figure);

/* Add value to text: U+2212 for minus, no negative zero. A share that is not exactly 0 or 1 is never written as 0%
 * or 100%: it is "<1%", ">99.9%". */
void rt_add_rounded(struct rt_text *text, double value, struct rt_rounding rounding);

/* True for a row whose interval is exact and conservative (none or all had the event); tables mark it. */
bool rt_is_conservative(const struct rt_figure *figure);

/* Add a p value: three decimals below 0.1, two above, "<0.001" and ">0.99" at the ends. */
void rt_add_p_value(struct rt_text *text, double p);

/* Add a part of the row as HTML. in_table: counts stand bare and rounding is the table's. A row that is not
 * in state ok gives its state in words for everything but counts. */
void rt_html_add_part(struct rt_text *html, const struct rt_figure *figure, enum rt_slot_part part,
                      bool in_table);

#endif
