#include "ridgetally/audit/period.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

int rt_year_start(const struct rt_period *period)
{
    return rt_add_months(period->last_day + 1, -12);
}

int rt_closing_start(const struct rt_period *period)
{
    int year_start = rt_year_start(period);
    return period->first_day < year_start ? period->first_day : year_start;
}

static int months_between(int from, int to)
{
    struct rt_civil_date a = rt_civil_date(from), b = rt_civil_date(to);
    return (b.year - a.year) * 12 + b.month - a.month;
}

struct rt_period rt_last_period(const struct rt_period *period)
{
    const int end = period->last_day + 1;
    const int months = months_between(period->first_day, end);
    if (months > 0 && rt_add_months(period->first_day, months) == end)
        return (struct rt_period){rt_add_months(period->first_day, -months), period->first_day - 1};
    return (struct rt_period){2 * period->first_day - end, period->first_day - 1};
}

struct rt_period rt_period_a_year_ago(const struct rt_period *period)
{
    return (struct rt_period){rt_add_months(period->first_day, -12),
                              rt_add_months(period->last_day + 1, -12) - 1};
}

enum rt_status rt_record_span(struct rt_store *store, int *earliest, int *latest, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *earliest = *latest = RT_NO_DATE;
    enum rt_status status = rt_query_open(store, "sql/queries/record-span.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row) {
        *earliest = rt_column_date(query, 0);
        *latest = rt_column_date(query, 1);
    }
    rt_query_close(query);
    return status;
}

static enum rt_status no_records(struct rt_store *store, struct rt_error *error)
{
    rt_fail(error, RT_INPUT, "the store %s holds no dated records", rt_store_path(store));
    rt_error_remedy(error, "load an implants file first: `ridgetally load implants.csv`");
    return RT_INPUT;
}

enum rt_status rt_default_period(struct rt_store *store, struct rt_period *period, struct rt_error *error)
{
    int earliest, latest;
    enum rt_status status = rt_record_span(store, &earliest, &latest, error);
    if (status != RT_OK)
        return status;
    if (latest == RT_NO_DATE)
        return no_records(store, error);
    int first_day, last_day;
    rt_quarter_of(latest, &first_day, &last_day);
    rt_quarter_of(first_day - 1, &period->first_day, &period->last_day);
    return RT_OK;
}

enum rt_status rt_whole_period(struct rt_store *store, struct rt_period *period, struct rt_error *error)
{
    enum rt_status status = rt_record_span(store, &period->first_day, &period->last_day, error);
    if (status == RT_OK && period->last_day == RT_NO_DATE)
        status = no_records(store, error);
    return status;
}
