#include "ridgetally/stats/cluster_influence.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/sum.h"

#include <math.h>

/* Below this share of its gross terms a net sum of squares is recomputed cluster by cluster. */
#define CANCELLED 1e-7

struct rt_cluster_sweep {
    const struct rt_timeline *timeline;
    const struct rt_follow_up *data;
    size_t count;       /* clusters */
    size_t next;        /* time of the next step */
    size_t late;        /* late rows that have entered */
    size_t at_risk;     /* clusters at risk at the last step */
    size_t leaving;     /* of these, gone after it */
    double *a_sum;      /* A_c */
    double *b_sum;      /* B_c; NULL without incidence */
    double *members;    /* a_c */
    struct rt_sum h, g; /* H and G */
    struct rt_sum aa, ab, bb, ma, mb, mm;
};

struct rt_cluster_sweep *rt_cluster_sweep_new(const struct rt_timeline *timeline,
                                              const struct rt_follow_up *data, bool with_incidence)
{
    struct rt_cluster_sweep *sweep = rt_new_array(1, sizeof *sweep);
    if (sweep == NULL)
        return NULL;
    sweep->timeline = timeline;
    sweep->data = data;
    sweep->count = rt_influence_length(data);
    sweep->a_sum = rt_new_array(sweep->count, sizeof *sweep->a_sum);
    sweep->b_sum = with_incidence ? rt_new_array(sweep->count, sizeof *sweep->b_sum) : NULL;
    sweep->members = rt_new_array(sweep->count, sizeof *sweep->members);
    if (sweep->a_sum == NULL || sweep->members == NULL || (with_incidence && sweep->b_sum == NULL)) {
        rt_cluster_sweep_free(sweep);
        return NULL;
    }
    for (size_t i = 0; i < data->n; i++)
        if (data->entry == NULL || data->entry[i] <= 0)
            sweep->members[data->clusters.of == NULL ? i : data->clusters.of[i]] += 1;
    for (size_t c = 0; c < sweep->count; c++) {
        rt_sum_add(&sweep->mm, sweep->members[c] * sweep->members[c]);
        sweep->at_risk += sweep->members[c] > 0 ? 1 : 0;
    }
    return sweep;
}

void rt_cluster_sweep_free(struct rt_cluster_sweep *sweep)
{
    if (sweep == NULL)
        return;
    free(sweep->a_sum);
    free(sweep->b_sum);
    free(sweep->members);
    free(sweep);
}

/* Move the sums of products for cluster c by sign (-1 takes its share out, +1 puts it in). */
static void count_cluster(struct rt_cluster_sweep *sweep, size_t c, double sign)
{
    double a = sweep->a_sum[c];
    double m = sweep->members[c];
    rt_sum_add(&sweep->aa, sign * a * a);
    rt_sum_add(&sweep->ma, sign * m * a);
    rt_sum_add(&sweep->mm, sign * m * m);
    if (sweep->b_sum == NULL)
        return;
    double b = sweep->b_sum[c];
    rt_sum_add(&sweep->ab, sign * a * b);
    rt_sum_add(&sweep->bb, sign * b * b);
    rt_sum_add(&sweep->mb, sign * m * b);
}

static void move_cluster(struct rt_cluster_sweep *sweep, size_t row, double a, double b, double members)
{
    size_t c = sweep->data->clusters.of == NULL ? row : sweep->data->clusters.of[row];
    count_cluster(sweep, c, -1);
    sweep->a_sum[c] += a;
    if (sweep->b_sum != NULL)
        sweep->b_sum[c] += b;
    if (members > 0 && sweep->members[c] == 0)
        sweep->at_risk++;
    sweep->members[c] += members;
    if (members < 0 && sweep->members[c] == 0)
        sweep->leaving++;
    count_cluster(sweep, c, 1);
}

void rt_cluster_sweep_step(struct rt_cluster_sweep *sweep, const struct rt_sweep_step *step)
{
    const struct rt_timeline *timeline = sweep->timeline;
    size_t k = sweep->next++;
    sweep->at_risk -= sweep->leaving;
    sweep->leaving = 0;
    double h = rt_sum_value(&sweep->h);
    double g = rt_sum_value(&sweep->g);
    for (; sweep->late < timeline->late_count; sweep->late++) {
        size_t row = timeline->by_entry[sweep->late];
        if (timeline->first[row] > k)
            break;
        move_cluster(sweep, row, h, g, 1);
    }
    double n = (double)step->at_risk;
    double d = (double)step->events;
    double rate = d < n ? d / (n * (n - d)) : 0; /* at d = n the curve is 0 and stays: no more weight on W */
    double own = d < n ? 1 / (n - d) : 0;
    rt_sum_add(&sweep->h, rate);
    rt_sum_add(&sweep->g,
               step->survival_before * (double)step->cause_events / (n * n) + step->incidence * rate);
    h = rt_sum_value(&sweep->h);
    g = rt_sum_value(&sweep->g);
    for (size_t r = timeline->exit_start[k]; r < timeline->exit_start[k + 1]; r++) {
        size_t row = timeline->by_exit[r];
        int event = sweep->data->event[row];
        double a = (event != 0 ? own : 0) - h;
        double b = (event != 0 ? step->incidence * own : 0) - g;
        if (event != 0 && event == step->cause)
            b += step->survival_before / n;
        move_cluster(sweep, row, a, b, -1);
    }
}

static double square_by_cluster(const struct rt_cluster_sweep *sweep, double x, double y)
{
    double h = rt_sum_value(&sweep->h);
    double g = rt_sum_value(&sweep->g);
    struct rt_sum total = {0};
    for (size_t c = 0; c < sweep->count; c++) {
        double w = sweep->a_sum[c] - sweep->members[c] * h;
        double p = sweep->b_sum == NULL ? 0 : sweep->b_sum[c] - sweep->members[c] * g;
        rt_sum_add(&total, (x * w + y * p) * (x * w + y * p));
    }
    return rt_sum_value(&total);
}

double rt_cluster_sweep_square(const struct rt_cluster_sweep *sweep, double x, double y)
{
    /* x W + y P = (x A + y B) - a r with r = x H + y G */
    double r = x * rt_sum_value(&sweep->h) + y * rt_sum_value(&sweep->g);
    double terms[] = {x * x * rt_sum_value(&sweep->aa),      2 * x * y * rt_sum_value(&sweep->ab),
                      y * y * rt_sum_value(&sweep->bb),      -2 * r * x * rt_sum_value(&sweep->ma),
                      -2 * r * y * rt_sum_value(&sweep->mb), r * r * rt_sum_value(&sweep->mm)};
    double net = 0;
    double gross = 0;
    for (size_t t = 0; t < sizeof terms / sizeof terms[0]; t++) {
        net += terms[t];
        gross += fabs(terms[t]);
    }
    return net < CANCELLED * gross ? square_by_cluster(sweep, x, y) : net;
}

size_t rt_cluster_sweep_at_risk(const struct rt_cluster_sweep *sweep)
{
    return sweep->at_risk;
}
