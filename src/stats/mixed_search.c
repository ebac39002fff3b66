#include "mixed_private.h"

#include "ridgetally/stats/root.h"

#include <math.h>

/* Ratios of variances tried first. Beyond the last one nothing measurable is left inside the clusters. */
static const double smallest_ratio = 1e-7;
static const double largest_ratio = 1e11;

/* --- one level: all sign changes of the derivative ----------------------------------------------------- */

struct line {
    const struct rt_mixed_data *data;
    struct rt_mixed_point *point;
};

static double slope_at(double log_theta, void *parameters)
{
    struct line *line = parameters;
    line->point->theta[0] = exp(log_theta);
    return rt_mixed_evaluate(line->data, line->point, true) ? line->point->gradient[0] * line->point->theta[0]
                                                            : NAN;
}

struct best {
    double theta[2];
    double deviance;
    double highest; /* deviance met, to tell a flat one */
};

static void consider(struct best *best, const struct rt_mixed_point *point)
{
    if (point->deviance < best->deviance) {
        best->deviance = point->deviance;
        best->theta[0] = point->theta[0];
        best->theta[1] = point->theta[1];
    }
    if (!(point->deviance <= best->highest))
        best->highest = point->deviance;
}

static void search_line(struct line *line, struct best *best)
{
    struct rt_mixed_point *point = line->point;
    point->theta[0] = point->theta[1] = 0;
    double before = -1;
    if (rt_mixed_evaluate(line->data, point, true)) {
        consider(best, point);
        before = point->gradient[0];
    }
    const double step = log(10) / 3;
    for (double x = log(smallest_ratio); x < log(largest_ratio); x += step) {
        double slope = slope_at(x, line);
        if (isnan(slope))
            continue;
        consider(best, point);
        if (before < 0 && slope >= 0) {
            double root = rt_find_root(slope_at, line, x - step, x);
            if (!isnan(slope_at(root, line)))
                consider(best, point);
        }
        before = slope;
    }
}

/* --- two levels: the best points of a grid, then Newton steps ------------------------------------------ */

static const double grid[] = {0, 1e-4, 1e-2, 0.1, 0.3, 1, 3, 10, 100, 1e4};
enum { GRID = sizeof grid / sizeof grid[0], STARTS = 4 };

static void search_grid(const struct rt_mixed_data *data, struct rt_mixed_point *point,
                        double start[STARTS][2], struct best *best)
{
    double found[STARTS];
    for (size_t s = 0; s < STARTS; s++) {
        found[s] = INFINITY;
        start[s][0] = start[s][1] = 1;
    }
    for (size_t i = 0; i < GRID; i++)
        for (size_t j = 0; j < GRID; j++) {
            point->theta[0] = grid[i];
            point->theta[1] = grid[j];
            if (!rt_mixed_evaluate(data, point, false))
                continue;
            consider(best, point);
            size_t place = STARTS;
            while (place > 0 && point->deviance < found[place - 1])
                place--;
            for (size_t s = STARTS; s-- > place + 1;) {
                found[s] = found[s - 1];
                start[s][0] = start[s - 1][0];
                start[s][1] = start[s - 1][1];
            }
            if (place < STARTS) {
                found[place] = point->deviance;
                start[place][0] = grid[i];
                start[place][1] = grid[j];
            }
        }
}

/* Newton direction over the ratios not held at 0, on the scale t = log(theta + 1e-3) where the deviance is
 * closest to a parabola; downhill along the gradient where the curvature is not positive. Returns the
 * decrease it promises. */
static double direction(const struct rt_mixed_point *point, double step[2])
{
    double scale[2];
    bool free[2];
    double g[2] = {0, 0};
    double h[2][2] = {{1, 0}, {0, 1}};
    for (size_t a = 0; a < 2; a++) {
        scale[a] = point->theta[a] + 1e-3;
        free[a] = point->theta[a] > 0 || point->gradient[a] < 0;
        g[a] = free[a] ? point->gradient[a] * scale[a] : 0;
    }
    for (size_t a = 0; a < 2; a++)
        for (size_t b = 0; b < 2; b++)
            if (free[a] && free[b])
                h[a][b] = point->hessian[a][b] * scale[a] * scale[b] + (a == b ? g[a] : 0);
    double determinant = h[0][0] * h[1][1] - h[0][1] * h[1][0];
    if (h[0][0] > 0 && h[1][1] > 0 && determinant > 1e-10 * h[0][0] * h[1][1]) {
        step[0] = -(h[1][1] * g[0] - h[0][1] * g[1]) / determinant;
        step[1] = -(h[0][0] * g[1] - h[1][0] * g[0]) / determinant;
    } else {
        double size = hypot(g[0], g[1]);
        for (size_t a = 0; a < 2; a++)
            step[a] = -g[a] / (1 + size);
    }
    for (size_t a = 0; a < 2; a++)
        step[a] = fmax(-2, fmin(2, step[a]));
    return -(g[0] * step[0] + g[1] * step[1]);
}

/* Go from theta along step, halving until the deviance falls; the last steps, below what the deviance can
 * show, are taken as they are. */
static bool advance(const struct rt_mixed_data *data, struct rt_mixed_point *point, const double step[2],
                    double promise)
{
    double from[2] = {point->theta[0], point->theta[1]};
    double before = point->deviance;
    double noise = 1e-9 * (1 + fabs(before));
    for (double part = 1; part > 1e-9; part /= 2) {
        for (size_t a = 0; a < 2; a++) {
            double moved = (from[a] + 1e-3) * exp(part * step[a]) - 1e-3;
            /* for short steps the difference itself, free of the rounding of the sum */
            if (fabs(part * step[a]) < 1e-5)
                moved = from[a] + (from[a] + 1e-3) * expm1(part * step[a]);
            point->theta[a] = moved > 0 ? moved : 0;
        }
        if (rt_mixed_evaluate(data, point, true) &&
            (point->deviance < before || (promise < noise && point->deviance < before + noise)))
            return true;
    }
    point->theta[0] = from[0];
    point->theta[1] = from[1];
    rt_mixed_evaluate(data, point, true);
    return false;
}

static void descend(const struct rt_mixed_data *data, struct rt_mixed_point *point)
{
    int last_steps = 0;
    for (int round = 0; round < 200 && last_steps < 4; round++) {
        double step[2];
        double promise = direction(point, step);
        if (promise < 1e-9)
            last_steps++;
        if (promise == 0 || !advance(data, point, step, promise))
            return;
    }
}

static void search_plane(const struct rt_mixed_data *data, struct rt_mixed_point *point, struct best *best)
{
    double start[STARTS][2];
    search_grid(data, point, start, best);
    struct best refined = {.deviance = INFINITY};
    for (size_t s = 0; s < STARTS; s++) {
        point->theta[0] = start[s][0];
        point->theta[1] = start[s][1];
        if (!rt_mixed_evaluate(data, point, true))
            continue;
        descend(data, point);
        /* Two descents to the same minimum differ by rounding only: keep the first. */
        if (point->deviance < refined.deviance - 1e-9 * (1 + fabs(point->deviance)))
            consider(&refined, point);
    }
    if (refined.deviance <= best->deviance + 1e-9 * (1 + fabs(best->deviance))) {
        best->theta[0] = refined.theta[0];
        best->theta[1] = refined.theta[1];
        best->deviance = refined.deviance;
    }
}

enum rt_mixed_end rt_mixed_minimise(const struct rt_mixed_data *data, struct rt_mixed_point *point)
{
    struct best best = {.deviance = INFINITY, .highest = -INFINITY};
    if (data->two_level) {
        search_plane(data, point, &best);
    } else {
        struct line line = {data, point};
        search_line(&line, &best);
    }
    if (!(best.highest - best.deviance > 1e-9 * (1 + fabs(best.deviance))))
        return RT_MIXED_FLAT;
    if (fmax(best.theta[0], best.theta[1]) > 1e10)
        return RT_MIXED_UNBOUNDED;
    point->theta[0] = best.theta[0];
    point->theta[1] = best.theta[1];
    return rt_mixed_evaluate(data, point, true) ? RT_MIXED_FOUND : RT_MIXED_FLAT;
}
