/* Which figure rows stand behind which slide. */
#include "deck_rows.h"

#include <string.h>

#define YEAR "12 months"
#define SEEN "last sighting"

static const struct deck_source sources[] = {
    {"depth-bias", "depth", "depth_bias", "window", YEAR, "depth", "", "", false},
    {"depth-bias", "depth", "depth_bias", "window|operator", YEAR "|", "depth", "", "", false},
    {"depth-within", "depth", "depth_within_half", "window", YEAR, "depth", "within", "", false},
    {"depth-within", "depth", "depth_within_half", "window|operator", YEAR "|", "depth", "within", "", false},
    {"low-torque", "stability", "low_torque", "window", YEAR, "torque", "low", "", false},
    {"low-torque", "stability", "low_torque", "window", "period", "torque", "low", "", false},
    {"crest-depth", "crest", "crest_change", "window", "all", "crest change", "", "mean", false},
    {"crest-depth", "crest", "crest_change", "window|depth_class", "all|", "crest change", "", "mean", false},
    {"crest-tissue", "crest", "crest_change", "window", "all", "crest change", "", "mean", false},
    {"crest-tissue", "crest", "crest_change", "window|tissue_class", "all|", "crest change", "", "mean",
     false},
    {"exposure", "crest", "exposure_share", "window", "all", "crest exposure", "showing", "worse", false},
    {"exposure", "crest", "exposure_share", "window|tissue_class", "all|", "crest exposure", "showing",
     "worse", false},
    {"survival", "survival", "survival", "censoring", SEEN, "still followed", "failed", "", true},
    {"early", "survival", "early_failure", "window", "all", "early", "failed early", "", false},
    {"early", "survival", "early_failure", "window", YEAR, "early", "failed early", "", false},
    {"early-smoking", "survival", "early_failure", "window", "all", "early", "failed early", "", false},
    {"early-smoking", "survival", "early_failure", "window|smoking", "all|", "early", "failed early", "",
     false},
    {"early-torque", "survival", "early_failure", "window", "all", "early", "failed early", "", false},
    {"early-torque", "survival", "early_failure", "window|torque_class", "all|", "early", "failed early", "",
     false},
    {"early-line", "survival", "early_failure", "window", "all", "early", "failed early", "", false},
    {"early-line", "survival", "early_failure", "window|implant_line", "all|", "early", "failed early", "",
     false},
    {"follow-up", "flow", "completeness", "", "", "placed", "known", "", false},
    {"follow-up", "flow", "completeness", "year", "", "placed", "known", "", false},
};

const struct deck_source *deck_sources(size_t *count)
{
    *count = sizeof sources / sizeof sources[0];
    return sources;
}

bool rt_is_deck_finding(const char *slide)
{
    for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++)
        if (strcmp(sources[i].slide, slide) == 0)
            return true;
    return false;
}
