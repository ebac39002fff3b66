#include "ridgetally/stats/patterns.h"

#include "ridgetally/base/memory.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

static uint64_t hash_row(const double *row, size_t p)
{
    uint64_t hash = 0x9e3779b97f4a7c15u;
    for (size_t j = 0; j < p; j++) {
        double number = row[j] + 0.0; /* -0 becomes 0 */
        uint64_t bits;
        memcpy(&bits, &number, sizeof bits);
        hash = (hash ^ bits) * 0xff51afd7ed558ccdu;
        hash ^= hash >> 32;
    }
    return hash;
}

static bool same_row(const double *a, const double *b, size_t p)
{
    for (size_t j = 0; j < p; j++)
        if (!(a[j] == b[j]))
            return false;
    return true;
}

/* The slot of a row's pattern, or the free one where it belongs. Slots hold pattern numbers from 1. */
static size_t find_slot(const struct rt_patterns *patterns, const size_t *slots, size_t mask, const double *x,
                        size_t row, size_t p)
{
    size_t slot = (size_t)hash_row(x + row * p, p) & mask;
    while (slots[slot] != 0 && !same_row(x + patterns->first[slots[slot] - 1] * p, x + row * p, p))
        slot = (slot + 1) & mask;
    return slot;
}

enum rt_status rt_patterns_build(struct rt_patterns *patterns, const double *x, size_t n, size_t p,
                                 struct rt_error *error)
{
    size_t size = 16;
    while (size < 2 * n)
        size *= 2;
    size_t *slots = rt_new_array(size, sizeof *slots);
    *patterns = (struct rt_patterns){.of = rt_new_array(n + 1, sizeof(size_t)),
                                     .first = rt_new_array(n + 1, sizeof(size_t)),
                                     .times = rt_new_array(n + 1, sizeof(double))};
    if (slots == NULL || patterns->of == NULL || patterns->first == NULL || patterns->times == NULL) {
        free(slots);
        rt_patterns_release(patterns);
        return rt_fail_memory(error);
    }
    for (size_t i = 0; i < n; i++) {
        size_t slot = find_slot(patterns, slots, size - 1, x, i, p);
        if (slots[slot] == 0) {
            patterns->first[patterns->count] = i;
            slots[slot] = ++patterns->count;
        }
        patterns->of[i] = slots[slot] - 1;
        patterns->times[patterns->of[i]]++;
    }
    free(slots);
    return RT_OK;
}

void rt_patterns_release(struct rt_patterns *patterns)
{
    free(patterns->of);
    free(patterns->first);
    free(patterns->times);
    *patterns = (struct rt_patterns){.count = 0};
}
