#include "stored.h"

#include "loaded.h"

#include "ridgetally/audit/cohort.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <stdlib.h>

bool is_stored(enum part part)
{
    return part == PART_READERS || part == PART_CHANGE;
}

enum rt_status audit_stored(const struct rt_sample_practice *practice, const bool *parts,
                            struct interval *intervals, struct rt_error *error)
{
    size_t count;
    const struct simulated_measure *measures = simulated_measures(&count);
    bool asked[PARTS];
    const struct rt_period period = {rt_parse_iso_date("2026-04-01"), rt_parse_iso_date("2026-06-30")};
    struct rt_cohort cohort = {.count = 0};
    struct loaded loaded = {.store = NULL};
    struct interval *found = rt_new_array(count + 1, sizeof *found);
    for (int part = 0; part < PARTS; part++)
        asked[part] = parts[part] && is_stored((enum part)part);
    enum rt_status status =
        found == NULL ? rt_fail_memory(error) : load_practice(practice, false, &loaded, error);
    if (status == RT_OK)
        status = rt_load_cohort(loaded.store, &period, &cohort, error);
    if (status == RT_OK)
        status = audit_intervals(loaded.store, &cohort, asked, found, error);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        if (asked[part_of_measure(&measures[i])])
            intervals[i] = found[i];
    rt_release_cohort(&cohort);
    close_loaded(&loaded);
    free(found);
    return status;
}
