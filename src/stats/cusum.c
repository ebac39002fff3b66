#include "ridgetally/stats/cusum.h"

#include <math.h>

double rt_cusum_score(bool event, double p0, double odds_ratio)
{
    double common = log1p(p0 * (odds_ratio - 1));
    return event ? log(odds_ratio) - common : -common;
}

double rt_cusum_odds_ratio(double p0, double p1)
{
    return p1 / (1 - p1) / (p0 / (1 - p0));
}

void rt_cusum(const int *event, const double *p0, size_t n, const struct rt_cusum_design *design,
              struct rt_cusum_point *points)
{
    double before = 0;
    for (size_t i = 0; i < n; i++) {
        double score = rt_cusum_score(event[i] != 0, p0[i], design->odds_ratio);
        double cusum = fmax(0, before + score);
        points[i] = (struct rt_cusum_point){score, cusum, cusum > design->limit};
        before = points[i].signal && design->reset ? 0 : cusum;
    }
}
