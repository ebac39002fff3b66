#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/share.h"

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_EVENTS_COLUMN, true, NULL, "column of 0 and 1", NULL},
    RT_RECKON_BY,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] = "Limits: exact binomial for the effective size n* = p(1 - p)/v (t(n - 1)/t(C - "
                            "1))^2, v the design variance\n"
                            "C/(C - 1) sum over C clusters of (sum of (y - p))^2 / n^2 (Korn & Graubard "
                            "1998); n* = n without --cluster.\n"
                            "No event, or only events: exact binomial with n = clusters, conservative "
                            "(exact_on_clusters is then 1).\n"
                            "standard_error and df are CR2 and Satterthwaite; design_error is sqrt(v).\n"
                            "difference (when --by has two levels): second level less first, CR2; where a "
                            "group has no event or only events\n"
                            "its limits join those of the two shares by square-and-add (Newcombe 1998).\n";

static enum rt_status write_share(struct rt_reckon *r, const int *events, const struct rt_reckon_group *group,
                                  struct rt_error *error)
{
    const int *own = rt_reckon_pick_events(r, events, group);
    struct rt_share share;
    if (own == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_share(own, group->count, &group->clusters, &share, error);
    if (status != RT_OK)
        return status;
    const struct rt_estimate *e = &share.estimate;
    rt_reckon_row(r, "estimate", group->name, NAN, e->value, e->reason);
    rt_reckon_row(r, "standard_error", group->name, NAN, e->standard_error, e->reason);
    rt_reckon_row(r, "df", group->name, NAN, e->df, e->reason);
    rt_reckon_row(r, "lower", group->name, NAN, e->lower, e->reason);
    rt_reckon_row(r, "upper", group->name, NAN, e->upper, e->reason);
    rt_reckon_row(r, "design_error", group->name, NAN, share.design_error, e->reason);
    rt_reckon_row(r, "design_df", group->name, NAN, share.design_df, e->reason);
    rt_reckon_row(r, "effective_size", group->name, NAN, share.effective_size, e->reason);
    rt_reckon_row(r, "exact_on_clusters", group->name, NAN, share.exact_on_clusters ? 1 : 0, NULL);
    return RT_OK;
}

static enum rt_status write_difference(struct rt_reckon *r, const int *events,
                                       const struct rt_reckon_group *groups, struct rt_error *error)
{
    const bool *in_second = rt_reckon_rows_of(r, &groups[1], error);
    if (in_second == NULL)
        return RT_MEMORY;
    struct rt_estimate d;
    enum rt_status status = rt_share_difference(events, in_second, r->n, &r->clusters, &d, error);
    if (status != RT_OK)
        return status;
    rt_reckon_difference_rows(r, &d);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    int *events = NULL;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    enum rt_status status = rt_reckon_events(r, "--value", &events, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t g = 0; status == RT_OK && g < count; g++)
        status = write_share(r, events, &groups[g], error);
    return status == RT_OK && count == 2 ? write_difference(r, events, groups, error) : status;
}

const struct rt_reckon_method rt_reckon_share = {
    "share",
    "share of rows with an event, with a clustered interval",
    "estimate standard_error df lower upper design_error design_df effective_size exact_on_clusters (group); "
    "of two\n"
    "groups difference, its _standard_error _df _lower _upper _p",
    notes,
    options,
    run};
