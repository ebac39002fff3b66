#include "ridgetally/stats/proportion.h"

#include "ridgetally/stats/beta_tail.h"
#include "ridgetally/stats/estimate.h"

#include <math.h>
#include <stdbool.h>

static bool is_share(double count, double total)
{
    return total > 0 && isfinite(total) && count >= 0 && count <= total;
}

struct rt_limits rt_wilson_limits(double count, double total)
{
    if (!is_share(count, total))
        return (struct rt_limits){NAN, NAN};
    double z2 = RT_Z_95 * RT_Z_95;
    double half = RT_Z_95 * sqrt(z2 + 4 * count * ((total - count) / total));
    double below = 2 * count + z2;
    double above = 2 * (total - count) + z2;
    /* (below - half) loses digits for few events; below^2 - half^2 = 4 count^2 (1 + z2/total). */
    double least = 4 * count * count * (1 + z2 / total) / (below + half);
    double rest = 4 * (total - count) * (total - count) * (1 + z2 / total) / (above + half);
    double scale = 2 * (total + z2);
    return (struct rt_limits){count > 0 ? least / scale : 0, count < total ? 1 - rest / scale : 1};
}

struct rt_limits rt_exact_limits(double count, double total)
{
    if (!is_share(count, total))
        return (struct rt_limits){NAN, NAN};
    struct rt_limits limits = {0, 1};
    if (count > 0)
        limits.lower = rt_beta_lower_limit(0.025, count, total - count + 1);
    if (count < total)
        limits.upper = rt_beta_upper_limit(0.025, count + 1, total - count);
    return limits;
}
