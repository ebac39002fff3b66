#include "loader.h"

void add_detail(struct rt_load_report *report, long line, const char *column, const char *words,
                const char *remedy)
{
    if (report->details++ >= RT_MOST_DETAILS)
        return;
    rt_text_format(&report->words, "line %ld: %s: ", line, column);
    rt_text_add_plain(&report->words, words);
    if (remedy != NULL)
        rt_text_format(&report->words, ": %s", remedy);
    rt_text_add_character(&report->words, '\n');
}

void rt_release_load_report(struct rt_load_report *report)
{
    rt_text_release(&report->words);
    rt_text_release(&report->unknown_columns);
}
