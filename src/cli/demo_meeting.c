#include "ridgetally/cli/demo_meeting.h"

#include "ridgetally/audit/meeting.h"
#include "ridgetally/base/date.h"

#include <stddef.h>

static const char origin[] = "practice's own (invented)";

/* Chosen so that one is met, one is not, and of one it cannot be told. */
static const struct {
    const char *yardstick;
    bool at_least;
    double value;
} targets[] = {
    {"depth-within-half", true, 0.50},
    {"early-failure", false, 0.10},
    {"seen-at-a-year", true, 0.90},
};

static enum rt_status set_targets(struct rt_store *store, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < sizeof targets / sizeof targets[0] && status == RT_OK; i++) {
        const struct rt_target target = {.set = true,
                                         .value = targets[i].value,
                                         .at_least = targets[i].at_least,
                                         .origin = origin,
                                         .set_by = "A",
                                         .valid_from = rt_parse_iso_date("2025-01-01")};
        status = rt_set_target(store, targets[i].yardstick, &target, error);
    }
    return status;
}

enum rt_status rt_hold_demo_meeting(struct rt_store *store, struct rt_error *error)
{
    const struct rt_note note = {
        .first_day = rt_parse_iso_date("2026-01-01"),
        .last_day = rt_parse_iso_date("2026-03-31"),
        .section = "flow",
        .about = "seen-at-a-year",
        .decision = "Too many are not seen at a year: the desk calls each patient once more before the "
                    "window closes.",
        .written_on = rt_parse_iso_date("2026-04-14"),
        .written_by = "A",
        .re_audit_on = rt_parse_iso_date("2026-06-30"),
        .answered_on = RT_NO_DATE,
    };
    const struct rt_period next = {rt_parse_iso_date("2026-04-01"), rt_parse_iso_date("2026-06-30")};
    long number = 0;
    enum rt_status status = set_targets(store, error);
    if (status == RT_OK)
        status = rt_record_note(store, &note, &number, error);
    if (status == RT_OK)
        status = rt_answer_note(
            store, number, &next,
            "The calls began in May; too early to see them in the figure. Looked at again next quarter.", "B",
            error);
    return status;
}
