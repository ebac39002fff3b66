/*
 * The options that choose a part of the records, the same for every verb that reads them. In a verb's table of options
 * (cli/options.h, which is to be included beside this header):
 *
 *     struct rt_audit_filters filters = rt_no_filters();
 *     const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &store}, RT_FILTER_OPTIONS(filters)};
 */
#ifndef RIDGETALLY_CLI_FILTERS_H
#define RIDGETALLY_CLI_FILTERS_H

#include "ridgetally/audit/filter.h"

#define RT_FILTER_TEXT(name, filters, fact)                                                                  \
    {                                                                                                        \
        name, RT_OPTION_TEXT, &(filters).values[fact]                                                        \
    }

#define RT_FILTER_OPTIONS(filters)                                                                           \
    RT_FILTER_TEXT("--operator", filters, RT_FILTER_OPERATOR),                                               \
        RT_FILTER_TEXT("--line", filters, RT_FILTER_LINE), RT_FILTER_TEXT("--jaw", filters, RT_FILTER_JAW),  \
        RT_FILTER_TEXT("--region", filters, RT_FILTER_REGION),                                               \
        RT_FILTER_TEXT("--tooth", filters, RT_FILTER_TOOTH),                                                 \
        RT_FILTER_TEXT("--density-planned", filters, RT_FILTER_DENSITY_PLANNED),                             \
        RT_FILTER_TEXT("--density-found", filters, RT_FILTER_DENSITY_FOUND),                                 \
        RT_FILTER_TEXT("--stalled", filters, RT_FILTER_STALLED),                                             \
        RT_FILTER_TEXT("--changed", filters, RT_FILTER_CHANGED),                                             \
        RT_FILTER_TEXT("--closure", filters, RT_FILTER_CLOSURE),                                             \
        RT_FILTER_TEXT("--timing", filters, RT_FILTER_TIMING),                                               \
        RT_FILTER_TEXT("--graft", filters, RT_FILTER_GRAFT),                                                 \
        RT_FILTER_TEXT("--age", filters, RT_FILTER_AGE), RT_FILTER_TEXT("--sex", filters, RT_FILTER_SEX),    \
        RT_FILTER_TEXT("--smoking", filters, RT_FILTER_SMOKING),                                             \
        RT_FILTER_TEXT("--diabetes", filters, RT_FILTER_DIABETES),                                           \
        RT_FILTER_TEXT("--periodontitis", filters, RT_FILTER_PERIODONTITIS),                                 \
        {"--placed-from", RT_OPTION_DATE, &(filters).placed_from},                                           \
    {                                                                                                        \
        "--placed-to", RT_OPTION_DATE, &(filters).placed_to                                                  \
    }

/* What --help prints about them. */
#define RT_FILTER_HELP                                                                                       \
    "Only a part of the records (several values with commas; not-recorded chooses implants without the "     \
    "fact):\n"                                                                                               \
    "  --operator A,B                  who placed it\n"                                                      \
    "  --line CODE                     implant line\n"                                                       \
    "  --jaw upper|lower\n"                                                                                  \
    "  --region upper-front|upper-back|lower-...\n"                                                          \
    "  --tooth 36,46\n"                                                                                      \
    "  --density-planned, --density-found D1..D4|LZ1..LZ4\n"                                                 \
    "  --stalled yes|no\n"                                                                                   \
    "  --changed yes|no                for another size\n"                                                   \
    "  --closure one-stage|two-stage\n"                                                                      \
    "  --timing, --graft, --sex, --smoking, --diabetes, --periodontitis  as in the sheets\n"                 \
    "  --age 40-59                     years at placement\n"                                                 \
    "  --placed-from DATE, --placed-to DATE  day of placement, both in\n"

#endif
