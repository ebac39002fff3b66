/* What the practice changes about its yardsticks. */
#include "ridgetally/audit/meeting.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <string.h>

static enum rt_status find(struct rt_meeting *meeting, struct rt_store *store, const char *name, int day,
                           const struct rt_yardstick **found, struct rt_error *error)
{
    enum rt_status status = rt_load_yardsticks(store, day, meeting, error);
    if (status != RT_OK)
        return status;
    *found = rt_find_yardstick(meeting, name);
    if (*found != NULL)
        return RT_OK;
    rt_fail(error, RT_USE, "there is no yardstick '%.80s'", name);
    rt_error_remedy(error, "`ridgetally yardstick` lists them");
    return RT_USE;
}

static enum rt_status check_target(const struct rt_yardstick *yardstick, const struct rt_target *target,
                                   struct rt_error *error)
{
    if (target->set_by[0] == '\0')
        return rt_fail(error, RT_USE, "a target needs the name or initials of who sets it");
    if (target->valid_from == RT_NO_DATE)
        return rt_fail(error, RT_USE, "a target needs the day from which it holds");
    if (!target->set && !yardstick->target.set)
        return rt_fail(error, RT_USE, "the yardstick %s has no target to withdraw on that day",
                       yardstick->name);
    if (!target->set)
        return RT_OK;
    if (!isfinite(target->value))
        return rt_fail(error, RT_USE, "a target is a number");
    if (strcmp(yardstick->unit, "share") == 0 && !(target->value >= 0.0 && target->value <= 1.0)) {
        rt_fail(error, RT_USE, "the target of %s is a share", yardstick->name);
        rt_error_remedy(error, "write it from 0 to 1, or with a %% sign");
        return RT_USE;
    }
    if (strcmp(yardstick->unit, "mm") == 0 && fabs(target->value) > 20.0)
        return rt_fail(error, RT_USE, "a target of %s cannot be more than 20 mm", yardstick->name);
    return RT_OK;
}

enum rt_status rt_set_target(struct rt_store *store, const char *yardstick, const struct rt_target *target,
                             struct rt_error *error)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    const struct rt_yardstick *found = NULL;
    struct rt_query *query = NULL;
    enum rt_status status = find(&meeting, store, yardstick, target->valid_from, &found, error);
    if (status == RT_OK)
        status = check_target(found, target, error);
    if (status == RT_OK) {
        bool at_least = target->set ? target->at_least : found->target.at_least;
        status = rt_query_open(store, "sql/queries/yardstick-set.sql", &query, error);
        rt_bind_text(query, ":name", yardstick);
        rt_bind_real(query, ":value", target->set ? target->value : NAN);
        rt_bind_text(query, ":direction", at_least ? "at_least" : "at_most");
        rt_bind_text(query, ":origin", target->origin);
        rt_bind_date(query, ":valid_from", target->valid_from);
        rt_bind_text(query, ":set_by", target->set_by);
    }
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    rt_release_meeting(&meeting);
    return status;
}

enum rt_status rt_set_readable_width(struct rt_store *store, const char *yardstick, double width,
                                     struct rt_error *error)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    const struct rt_yardstick *found = NULL;
    struct rt_query *query = NULL;
    enum rt_status status = find(&meeting, store, yardstick, 0, &found, error);
    double most = found != NULL && strcmp(found->unit, "share") == 0 ? 1.0 : 20.0;
    if (status == RT_OK && !(width > 0.0 && width <= most)) {
        status =
            rt_fail(error, RT_USE, "the width that answers %s is above 0 and at most %g", yardstick, most);
        if (most == 1.0)
            rt_error_remedy(error, "write it as a share, 0.1, or with a %% sign");
    }
    if (status == RT_OK) {
        status = rt_query_open(store, "sql/queries/yardstick-width.sql", &query, error);
        rt_bind_text(query, ":name", yardstick);
        rt_bind_real(query, ":width", width);
    }
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    rt_release_meeting(&meeting);
    return status;
}
