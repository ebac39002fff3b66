#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"

#include <math.h>

/* Rows at risk by their value along the direction, largest first: a binary heap from which late rows are dropped when
 * they come to the top after their time. */
struct heap {
    size_t *rows;
    size_t count;
    const double *value;
};

static void swap(size_t *a, size_t *b)
{
    size_t kept = *a;
    *a = *b;
    *b = kept;
}

static void push(struct heap *heap, size_t row)
{
    size_t place = heap->count++;
    heap->rows[place] = row;
    while (place > 0 && heap->value[heap->rows[place]] > heap->value[heap->rows[(place - 1) / 2]]) {
        swap(&heap->rows[place], &heap->rows[(place - 1) / 2]);
        place = (place - 1) / 2;
    }
}

static void pop(struct heap *heap)
{
    heap->rows[0] = heap->rows[--heap->count];
    for (size_t place = 0;;) {
        size_t largest = place;
        for (size_t child = 2 * place + 1; child <= 2 * place + 2 && child < heap->count; child++)
            if (heap->value[heap->rows[child]] > heap->value[heap->rows[largest]])
                largest = child;
        if (largest == place)
            return;
        swap(&heap->rows[place], &heap->rows[largest]);
        place = largest;
    }
}

/* Is every failure of the stratum at the top of its risk set, to within slack? */
static bool ordered(const struct rt_partial *partial, size_t s, struct heap *heap, double slack)
{
    const struct rt_timeline *timeline = &partial->timeline;
    const struct rt_stratified *strata = &partial->strata;
    heap->count = 0;
    for (size_t end = strata->exit_start[s + 1]; end > strata->exit_start[s];) {
        size_t k = timeline->exit[strata->by_exit[end - 1]];
        size_t stop = end;
        for (; end > strata->exit_start[s] && timeline->exit[strata->by_exit[end - 1]] == k; end--)
            push(heap, strata->by_exit[end - 1]);
        while (heap->count > 0 && timeline->first[heap->rows[0]] > k)
            pop(heap);
        for (size_t r = end; r < stop; r++) {
            size_t row = strata->by_exit[r];
            if (partial->model->data.event[row] != 0 && heap->value[row] < heap->value[heap->rows[0]] - slack)
                return false;
        }
    }
    return true;
}

enum rt_status rt_partial_is_monotone(const struct rt_partial *partial, const double *direction, double slack,
                                      bool *monotone, struct rt_error *error)
{
    size_t n = partial->model->data.n;
    double *value = rt_new_array(n, sizeof *value);
    struct heap heap = {.rows = rt_new_array(n, sizeof *heap.rows), .value = value};
    enum rt_status status = RT_OK;
    *monotone = false;
    if (value == NULL || heap.rows == NULL) {
        status = rt_fail_memory(error);
    } else {
        double least = INFINITY;
        double most = -INFINITY;
        for (size_t i = 0; i < n; i++) {
            for (size_t j = 0; j < partial->terms; j++)
                value[i] += partial->z[i * partial->terms + j] * direction[j];
            least = fmin(least, value[i]);
            most = fmax(most, value[i]);
        }
        *monotone = most > least;
        for (size_t s = 0; *monotone && s < partial->strata.strata; s++)
            *monotone = ordered(partial, s, &heap, slack * (most - least));
    }
    free(value);
    free(heap.rows);
    return status;
}
