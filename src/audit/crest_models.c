#include "ridgetally/audit/sections.h"

void rt_crest_model_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    (void)store, (void)cohort, (void)rows;
}
