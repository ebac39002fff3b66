#include "attacker.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NOTHING 1e-7

enum { ENDLESS = 1000000 };

/* Rows of the tableau in canonical form: columns of the kinds, then what the row's basic kind holds. */
struct attacker {
    size_t kinds, rows;
    double **row;  /* kinds + 1 each */
    size_t *basic; /* a row; kinds + i: nothing yet */
    double *cost;  /* kinds + 1: what each kind would still add */
};

void release_attacker(struct attacker *attacker)
{
    if (attacker == NULL)
        return;
    for (size_t i = 0; attacker->row != NULL && i < attacker->rows; i++)
        free(attacker->row[i]);
    free(attacker->row);
    free(attacker->basic);
    free(attacker->cost);
    free(attacker);
}

static void subtract(double *from, const double *row, double times, size_t width)
{
    if (times != 0.0)
        for (size_t k = 0; k < width; k++)
            from[k] -= times * row[k];
}

static void pivot(struct attacker *attacker, size_t at, size_t kind)
{
    const size_t width = attacker->kinds + 1;
    double *row = attacker->row[at];
    const double scale = row[kind];
    for (size_t k = 0; k < width; k++)
        row[k] /= scale;
    row[kind] = 1.0;
    for (size_t i = 0; i < attacker->rows; i++)
        if (i != at)
            subtract(attacker->row[i], row, attacker->row[i][kind], width);
    subtract(attacker->cost, row, attacker->cost[kind], width);
    attacker->basic[at] = kind;
}

/* The kind that adds most; after many steps the first that adds anything, which cannot go round in circles. */
static size_t entering(const struct attacker *attacker, size_t step)
{
    size_t best = attacker->kinds;
    double most = NOTHING;
    for (size_t k = 0; k < attacker->kinds; k++)
        if (attacker->cost[k] > most) {
            best = k;
            most = attacker->cost[k];
            if (step > 5 * attacker->rows)
                break;
        }
    return best;
}

static size_t leaving(const struct attacker *attacker, size_t kind)
{
    size_t best = attacker->rows;
    double least = HUGE_VAL;
    for (size_t i = 0; i < attacker->rows; i++) {
        if (attacker->row[i][kind] <= NOTHING)
            continue;
        double ratio = attacker->row[i][attacker->kinds] / attacker->row[i][kind];
        if (ratio < least - NOTHING ||
            (ratio < least + NOTHING && attacker->basic[i] < attacker->basic[best])) {
            best = i;
            least = ratio < least ? ratio : least;
        }
    }
    return best;
}

/* False when there is no end. */
static bool climb(struct attacker *attacker)
{
    for (size_t step = 0;; step++) {
        size_t kind = entering(attacker, step);
        if (kind == attacker->kinds)
            return true;
        size_t row = leaving(attacker, kind);
        if (row == attacker->rows)
            return false;
        pivot(attacker, row, kind);
    }
}

/* Fulfil the statements; those that say nothing new are dropped. */
static bool begin(struct attacker *attacker)
{
    const size_t width = attacker->kinds + 1;
    memset(attacker->cost, 0, width * sizeof *attacker->cost);
    for (size_t i = 0; i < attacker->rows; i++)
        subtract(attacker->cost, attacker->row[i], -1.0, width);
    climb(attacker);
    if (attacker->cost[attacker->kinds] > 1e-4)
        return false;
    for (size_t i = attacker->rows; i-- > 0;) {
        if (attacker->basic[i] < attacker->kinds)
            continue;
        size_t kind = 0;
        while (kind < attacker->kinds && fabs(attacker->row[i][kind]) < 1e-6)
            kind++;
        if (kind < attacker->kinds) {
            pivot(attacker, i, kind);
            continue;
        }
        double *last = attacker->row[--attacker->rows];
        free(attacker->row[i]);
        attacker->row[i] = last;
        attacker->basic[i] = attacker->basic[attacker->rows];
    }
    return true;
}

struct attacker *new_attacker(size_t kinds, size_t statements, bool *const *sets, const long *counts)
{
    struct attacker *attacker = calloc(1, sizeof *attacker);
    if (attacker == NULL)
        return NULL;
    attacker->kinds = kinds;
    attacker->row = calloc(statements + 1, sizeof *attacker->row);
    attacker->basic = calloc(statements + 1, sizeof *attacker->basic);
    attacker->cost = calloc(kinds + 1, sizeof *attacker->cost);
    bool fine = attacker->row != NULL && attacker->basic != NULL && attacker->cost != NULL;
    for (size_t i = 0; fine && i < statements; i++) {
        attacker->row[i] = calloc(kinds + 1, sizeof *attacker->row[i]);
        fine = attacker->row[i] != NULL;
        attacker->rows = i + 1;
        for (size_t k = 0; fine && k < kinds; k++)
            attacker->row[i][k] = sets[i][k];
        if (fine)
            attacker->row[i][kinds] = (double)counts[i];
        attacker->basic[i] = kinds + i;
    }
    if (fine && begin(attacker))
        return attacker;
    release_attacker(attacker);
    return NULL;
}

long attacker_most(struct attacker *attacker, const bool *set)
{
    const size_t width = attacker->kinds + 1;
    for (size_t k = 0; k < attacker->kinds; k++)
        attacker->cost[k] = set[k];
    attacker->cost[attacker->kinds] = 0.0;
    for (size_t i = 0; i < attacker->rows; i++)
        subtract(attacker->cost, attacker->row[i], attacker->cost[attacker->basic[i]], width);
    if (!climb(attacker))
        return ENDLESS;
    return (long)floor(-attacker->cost[attacker->kinds] + 1e-5);
}
