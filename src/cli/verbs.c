#include "ridgetally/cli/verb.h"

#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/reckon.h"

static const struct rt_verb verbs[] = {
    {"figures", "the figure rows as CSV or JSON", RT_FIGURES_HELP, rt_figures_verb},
    {"reckon", "any statistic of the engine on any CSV", NULL, rt_reckon_verb},
    {.name = NULL},
};

const struct rt_verb *rt_verbs(size_t *count)
{
    *count = sizeof verbs / sizeof verbs[0] - 1; /* the last row only ends the table */
    return verbs;
}
