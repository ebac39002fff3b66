/* What the chapters of the audit share; private to the output layer. */
#ifndef RIDGETALLY_SRC_OUTPUT_PLAN_H
#define RIDGETALLY_SRC_OUTPUT_PLAN_H

#include "row_index.h"

#include "ridgetally/figure/document.h"
#include "ridgetally/figure/standing_out.h"
#include "ridgetally/output/audit.h"

#include <stddef.h>

struct plan {
    struct rt_document *document;
    const struct rt_audit_subject *subject;
    const struct rt_figure_list *figures;
    const struct row_index *index; /* of the figures; NULL: rows are looked for one by one */
};

/* A key to look rows up with; NULL members match "" except where a function says otherwise. */
struct key {
    const char *section;
    const char *measure;
    const char *grouping;
    const char *level;
    const char *baseline;
    const char *site;
    const char *unit; /* of analysis; NULL = implant, or none where a measure has none */
    double at;        /* NAN = the row has none */
};

/* A key with section, measure, grouping and level, and nothing else. */
struct key key_of(const char *section, const char *measure, const char *grouping, const char *level);

/* The one row of that key, or NULL. */
const struct rt_figure *find_row(const struct plan *plan, struct key key);

/* Rows of the key whose level begins with key.level, one after another: begin with *at = 0; NULL at the end.
 * A NaN key.at matches any. */
const struct rt_figure *next_row(const struct plan *plan, struct key key, size_t *at);

/* True when there is such a row in state ok. */
bool any_ok(const struct plan *plan, struct key key);

/* The last part of a joined level (`12 months|D2` -> `D2`), and the part at index (0 first). "" if absent. */
const char *level_part(const struct plan *plan, const char *level, size_t index);
const char *last_level_part(const struct plan *plan, const char *level);

/* A level in words. Groupings that end in _class hold ranges: `0-<1` -> "0 to under 1", `<0` -> "under 0";
 * other text stays. */
const char *level_words(const struct plan *plan, const char *grouping, const char *level);

/* The time of the row in words: "12 months", "1 year"; "" when it has none. */
const char *time_words(const struct plan *plan, const struct rt_figure *row);

/* A day in words: "1 July 2026"; "" for RT_NO_DATE. */
const char *day_words(struct rt_document *document, int day);

/* What the row is about within its window or censoring: "D2", "depth 1 to 2, tissue 3 or more", "2 years";
 * for a row grouped by nothing else, the window or censoring itself. */
const char *row_words(const struct plan *plan, const struct rt_figure *row);

/* The last part of the row's level in words. */
const char *last_words(const struct plan *plan, const struct rt_figure *row);

/* The reference class a row's remark names, in words: "against under 20 Ncm". */
const char *reference_words(const struct plan *plan, const struct rt_figure *row);

/* The label of the measure from the catalogue; its name when it is not there. */
const char *measure_label(const struct rt_figure *row);

/* Bind the row to slot, and its remark to {why}. */
void bind_row(const struct plan *plan, struct rt_sentence *sentence, const char *slot,
              const struct rt_figure *row);

/* The wording for a signed number: KEY.more when the whole interval is above zero, KEY.less below, KEY.either when it
 * holds zero, KEY.few when there are too few; answer.nobody without any case; answer.undefined, with {why}, when mathematics gives
 * no number. */
const char *signed_key(const struct plan *plan, const char *key, const struct rt_figure *row);

/* The wording for a share: KEY.none and KEY.all at 0 and 1, KEY.small below 100 implants, KEY.large from there,
 * KEY.few when there are too few for a percentage. */
const char *share_key(const struct plan *plan, const char *key, const struct rt_figure *row);

/* Add an answer with the wording of signed_key or share_key and the row bound to slot. */
struct rt_sentence *answer_signed(const struct plan *plan, struct rt_block *block, const char *key,
                                  const char *slot, const struct rt_figure *row);
struct rt_sentence *answer_share(const struct plan *plan, struct rt_block *block, const char *key,
                                 const char *slot, const struct rt_figure *row);

/* True for a row in which there was nothing to count: such rows are not shown. */
bool is_void(const struct rt_figure *row);

/* A table over the levels of a grouping. columns: measures of one section, each shown in its part. Row labels
 * are row_words. key: section, grouping and level prefix, baseline, site, at. Levels are those of the first
 * column. Nothing is added when there are no rows. */
struct level_column {
    const char *heading; /* wording key */
    const char *measure;
    enum rt_slot_part part;
    const char *unit; /* of analysis; NULL = the key's */
};
void add_level_table(const struct plan *plan, struct rt_block *block, const char *caption,
                     const char *row_heading, struct key key, const struct level_column *columns,
                     size_t count);

/* The same with one part of a joined grouping (its number from 0) across, the columns once for each of its levels, and the rest of the
 * level and the time down. One level only, or more columns than a sheet holds: add_level_table with long_row_heading. */
void add_matrix_table(const struct plan *plan, struct rt_block *block, const char *caption,
                      const char *row_heading, struct key key, size_t part, const char *long_row_heading,
                      const struct level_column *columns, size_t count);

/* A chart request with the plan's figures and everything else empty. id, title, description and axis titles
 * come from the wordings chart.ID.title, .about, .x and .y. */
struct rt_chart_request chart_request(const struct plan *plan, enum rt_chart_kind kind, const char *id);

/* The case series of that name, or NULL. */
const struct rt_case_series *find_cases(const struct plan *plan, const char *name);

/* Set the method line from the row's own method: the catalogue's label, linked to its entry in the appendix.
 */
void method_of(const struct plan *plan, struct rt_block *block, const struct rt_figure *row);

/* The row of a flow measure over all records, or NULL. */
const struct rt_figure *flow_row(const struct plan *plan, const char *measure);

/* The rows that answer a chapter's main question; NULL when they are not there. */
const struct rt_figure *main_bias(const struct plan *plan);
const struct rt_figure *main_crest_change(const struct plan *plan);
const struct rt_figure *main_survival(const struct plan *plan); /* at the latest year with enough patients */
const struct rt_figure *main_early_failure(const struct plan *plan);

/* What the lost or unknown could make of survival at a time, or of early failure. False when not both are known. */
struct bounds {
    const struct rt_figure *worst, *best;
};
bool survival_bounds(const struct plan *plan, const struct rt_figure *survival, struct bounds *bounds);
bool early_bounds(const struct plan *plan, struct bounds *bounds);
void bind_bounds(const struct plan *plan, struct rt_sentence *sentence, const struct bounds *bounds);

/* Title, practice, period, notices and footer of a page; title and fingerprint are wording keys. */
void describe_page(const struct rt_audit_subject *subject, struct rt_document *document, const char *title,
                   const char *fingerprint);

/* A sentence about a row that stands out, added to the points of a chapter, and one that names what else is clear of its question. */
void add_standing_out(const struct plan *plan, struct rt_chapter *chapter, const struct rt_standing_out *out,
                      const struct rt_figure *row);

/* State of a yardstick in words, from a row yardstick_state or yardstick_before; NULL: "". */
const char *state_words(const struct plan *plan, const struct rt_figure *row);

/* The chapters, in the order of the page. */
void plan_front(const struct plan *plan);
void plan_yardsticks(const struct plan *plan);
void plan_precision(const struct plan *plan);
void plan_depth(const struct plan *plan);
void plan_stability(const struct plan *plan);
void plan_crest(const struct plan *plan);
void plan_survival(const struct plan *plan);
void plan_early_failure(const struct plan *plan);
/* The smallest change beyond the error of two readings by one reader; NULL when it is not known. */
const struct rt_figure *reading_error_row(const struct plan *plan);
void plan_crest_error(const struct plan *plan, struct rt_chapter *chapter); /* these within the crest */
void plan_crest_predicted(const struct plan *plan, struct rt_chapter *chapter);
void plan_crest_shared(const struct plan *plan, struct rt_chapter *chapter);
void plan_crest_operator(const struct plan *plan, struct rt_chapter *chapter);
void plan_crest_yearly(const struct plan *plan, struct rt_chapter *chapter);
void plan_survival_checks(const struct plan *plan, struct rt_chapter *chapter); /* within survival */
void plan_success(const struct plan *plan);
void plan_rules(const struct plan *plan);
void plan_operators_and_time(const struct plan *plan);
void plan_readers(const struct plan *plan);
void plan_flow(const struct plan *plan);
void plan_cases(const struct plan *plan);
void plan_methods(const struct plan *plan);
void plan_coverage(const struct plan *plan);
void plan_simulated_verdicts(const struct plan *plan, struct rt_chapter *chapter); /* within it */
void plan_cautions(const struct plan *plan);

#endif
