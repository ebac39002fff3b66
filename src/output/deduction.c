#include "ridgetally/output/deduction.h"

#include "ridgetally/base/memory.h"

#include <glpk.h>
#include <math.h>

enum { SEARCH_MILLISECONDS = 2000 };

struct rt_deduction {
    glp_prob *problem;
    size_t unknowns;
    long *least, *most; /* unknowns */
    size_t least_capacity, most_capacity;
    bool out_of_memory;
    bool contradicted; /* some unknown has no room left */
};

struct rt_deduction *rt_new_deduction(void)
{
    struct rt_deduction *deduction = rt_new_array(1, sizeof *deduction);
    if (deduction == NULL)
        return NULL;
    glp_term_out(GLP_OFF);
    deduction->problem = glp_create_prob();
    return deduction;
}

void rt_release_deduction(struct rt_deduction *deduction)
{
    if (deduction == NULL)
        return;
    glp_delete_prob(deduction->problem);
    free(deduction->least);
    free(deduction->most);
    free(deduction);
}

/* GLPK numbers columns from 1. */
static int column_of(size_t unknown)
{
    return (int)unknown + 1;
}

static void bound_column(struct rt_deduction *deduction, size_t unknown)
{
    long least = deduction->least[unknown], most = deduction->most[unknown];
    if (least > most)
        deduction->contradicted = true;
    else
        glp_set_col_bnds(deduction->problem, column_of(unknown), least == most ? GLP_FX : GLP_DB,
                         (double)least, (double)most);
}

size_t rt_add_unknown(struct rt_deduction *deduction, long least, long most)
{
    size_t unknown = deduction->unknowns;
    long *lower = rt_grow_array(deduction->least, &deduction->least_capacity, unknown + 1, sizeof *lower);
    if (lower != NULL)
        deduction->least = lower;
    long *upper = rt_grow_array(deduction->most, &deduction->most_capacity, unknown + 1, sizeof *upper);
    if (upper != NULL)
        deduction->most = upper;
    if (lower == NULL || upper == NULL) {
        deduction->out_of_memory = true;
        return 0;
    }
    glp_add_cols(deduction->problem, 1);
    deduction->unknowns++;
    glp_set_col_kind(deduction->problem, column_of(unknown), GLP_IV);
    lower[unknown] = least;
    upper[unknown] = most;
    bound_column(deduction, unknown);
    return unknown;
}

size_t rt_unknown_count(const struct rt_deduction *deduction)
{
    return deduction->unknowns;
}

void rt_show_unknown(struct rt_deduction *deduction, size_t unknown, long least, long most)
{
    if (deduction->out_of_memory)
        return;
    if (least > deduction->least[unknown])
        deduction->least[unknown] = least;
    if (most < deduction->most[unknown])
        deduction->most[unknown] = most;
    bound_column(deduction, unknown);
}

/* A row: sum of parts minus whole, with a bound of the given kind at 0. */
static void add_row(struct rt_deduction *deduction, size_t whole, const size_t *parts, size_t count, int kind)
{
    if (deduction->out_of_memory)
        return;
    int *columns = rt_new_array(count + 2, sizeof *columns);
    double *factors = rt_new_array(count + 2, sizeof *factors);
    if (columns == NULL || factors == NULL) {
        deduction->out_of_memory = true;
    } else {
        int row = glp_add_rows(deduction->problem, 1);
        for (size_t i = 0; i < count; i++) {
            columns[i + 1] = column_of(parts[i]);
            factors[i + 1] = 1;
        }
        columns[count + 1] = column_of(whole);
        factors[count + 1] = -1;
        glp_set_mat_row(deduction->problem, row, (int)count + 1, columns, factors);
        glp_set_row_bnds(deduction->problem, row, kind, 0, 0);
    }
    free(columns);
    free(factors);
}

void rt_state_sum(struct rt_deduction *deduction, size_t whole, const size_t *parts, size_t count)
{
    add_row(deduction, whole, parts, count, GLP_FX);
}

void rt_state_union(struct rt_deduction *deduction, size_t whole, const size_t *parts, size_t count)
{
    add_row(deduction, whole, parts, count, GLP_LO);
    for (size_t i = 0; i < count; i++)
        rt_state_not_more(deduction, parts[i], whole);
}

void rt_state_not_more(struct rt_deduction *deduction, size_t smaller, size_t larger)
{
    add_row(deduction, larger, &smaller, 1, GLP_UP);
}

void rt_state_at_most_times(struct rt_deduction *deduction, size_t smaller, double times, size_t larger)
{
    if (deduction->out_of_memory)
        return;
    const int columns[] = {0, column_of(smaller), column_of(larger)};
    const double factors[] = {0, 1, -times};
    int row = glp_add_rows(deduction->problem, 1);
    glp_set_mat_row(deduction->problem, row, 2, columns, factors);
    glp_set_row_bnds(deduction->problem, row, GLP_UP, 0, 0);
}

/* The end of the range in one direction (GLP_MIN, GLP_MAX). A search cut short gives the best solution found, which lies
 * inside the range: an outsider is then believed to know more than was proven. False when there is no solution. */
static bool find_end(struct rt_deduction *deduction, size_t unknown, int direction, long *end, bool *proven)
{
    glp_prob *problem = deduction->problem;
    glp_set_obj_dir(problem, direction);
    glp_set_obj_coef(problem, column_of(unknown), 1);
    glp_iocp search;
    glp_init_iocp(&search);
    search.presolve = GLP_ON;
    search.msg_lev = GLP_MSG_OFF;
    search.tm_lim = SEARCH_MILLISECONDS;
    int result = glp_intopt(problem, &search);
    int state = glp_mip_status(problem);
    bool found = (result == 0 || result == GLP_ETMLIM) && (state == GLP_OPT || state == GLP_FEAS);
    if (found)
        *end = lround(glp_mip_col_val(problem, column_of(unknown)));
    if (result == GLP_ETMLIM)
        *proven = false;
    glp_set_obj_coef(problem, column_of(unknown), 0);
    return found;
}

enum rt_status rt_deduce(struct rt_deduction *deduction, size_t unknown, struct rt_deduced *deduced,
                         struct rt_error *error)
{
    if (deduction->out_of_memory)
        return rt_fail_memory(error);
    deduced->proven = true;
    if (!deduction->contradicted &&
        find_end(deduction, unknown, GLP_MIN, &deduced->least, &deduced->proven) &&
        find_end(deduction, unknown, GLP_MAX, &deduced->most, &deduced->proven))
        return RT_OK;
    if (deduction->contradicted || deduced->proven)
        return rt_fail(error, RT_INPUT, "the counts that were shown contradict each other");
    return rt_fail(error, RT_SYSTEM,
                   "what a reader could work out from the counts could not be found in time");
}

enum rt_status rt_can_reach(struct rt_deduction *deduction, size_t unknown, long value, bool *can,
                            struct rt_error *error)
{
    *can = false;
    if (deduction->out_of_memory)
        return rt_fail_memory(error);
    if (deduction->contradicted || value > deduction->most[unknown])
        return RT_OK;
    long least = deduction->least[unknown], found;
    bool proven = true;
    if (value > least) {
        deduction->least[unknown] = value;
        bound_column(deduction, unknown);
    }
    *can = find_end(deduction, unknown, GLP_MIN, &found, &proven);
    deduction->least[unknown] = least;
    bound_column(deduction, unknown);
    return RT_OK;
}

size_t rt_last_solution(const struct rt_deduction *deduction, long *values)
{
    int state = glp_mip_status(deduction->problem);
    if (state != GLP_OPT && state != GLP_FEAS)
        return 0;
    for (size_t i = 0; i < deduction->unknowns; i++)
        values[i] = lround(glp_mip_col_val(deduction->problem, column_of(i)));
    return deduction->unknowns;
}
