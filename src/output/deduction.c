#include "ridgetally/output/deduction.h"

#include "ridgetally/base/memory.h"

#include <glpk.h>
#include <math.h>

#define CLOSE 1e-6

enum { SEARCH_MILLISECONDS = 2000, SEARCH_STEPS = 50, SEARCHED = 1000 };

struct rt_deduction {
    glp_prob *problem;
    size_t unknowns;
    long *least, *most;     /* unknowns */
    long *lowest, *highest; /* what was known before anything was shown */
    size_t least_capacity, most_capacity, lowest_capacity, highest_capacity;
    bool whole;     /* the last solution is one in whole numbers */
    bool solved;    /* there is one to tell of */
    long *solution; /* unknowns */
    size_t solution_capacity;
    bool out_of_memory;
    bool contradicted; /* some unknown has no room left */
    bool *large;       /* unknowns: where any solution will do, one in which they are large is looked for */
    size_t large_capacity;
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
    free(deduction->large);
    free(deduction->solution);
    free(deduction->lowest);
    free(deduction->highest);
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
    long **const rows[] = {&deduction->least, &deduction->most, &deduction->lowest, &deduction->highest};
    size_t *const capacities[] = {&deduction->least_capacity, &deduction->most_capacity,
                                  &deduction->lowest_capacity, &deduction->highest_capacity};
    bool *large = rt_grow_array(deduction->large, &deduction->large_capacity, unknown + 1, sizeof *large);
    if (large != NULL)
        deduction->large = large;
    deduction->out_of_memory = deduction->out_of_memory || large == NULL;
    for (size_t i = 0; i < 4; i++) {
        long *row = rt_grow_array(*rows[i], capacities[i], unknown + 1, sizeof *row);
        if (row != NULL)
            *rows[i] = row;
        deduction->out_of_memory = deduction->out_of_memory || row == NULL;
    }
    if (deduction->out_of_memory)
        return 0;
    glp_add_cols(deduction->problem, 1);
    deduction->unknowns++;
    glp_set_col_kind(deduction->problem, column_of(unknown), GLP_IV);
    deduction->least[unknown] = deduction->lowest[unknown] = least;
    deduction->most[unknown] = deduction->highest[unknown] = most;
    large[unknown] = false;
    bound_column(deduction, unknown);
    return unknown;
}

size_t rt_unknown_count(const struct rt_deduction *deduction)
{
    return deduction->unknowns;
}

void rt_prefer_large(struct rt_deduction *deduction, size_t unknown)
{
    if (!deduction->out_of_memory)
        deduction->large[unknown] = true;
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

void rt_hide_unknown(struct rt_deduction *deduction, size_t unknown)
{
    if (deduction->out_of_memory)
        return;
    deduction->least[unknown] = deduction->lowest[unknown];
    deduction->most[unknown] = deduction->highest[unknown];
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

/* Ends a search with the first solution, or after so many steps, which unlike a time are the same on every machine. */
static void stop_search(glp_tree *tree, void *steps)
{
    int *left = steps;
    if (glp_ios_reason(tree) == GLP_IBINGO || (glp_ios_reason(tree) == GLP_ISELECT && --*left < 0))
        glp_ios_terminate(tree);
}

/* Branch and bound with the objective as it is. True when whole numbers were found; a search cut short clears *proven. */
static bool search(struct rt_deduction *deduction, int steps, bool *proven)
{
    glp_iocp search;
    glp_init_iocp(&search);
    search.presolve = GLP_ON;
    search.msg_lev = GLP_MSG_OFF;
    if (steps > 0) {
        search.cb_func = stop_search;
        search.cb_info = &steps;
    } else {
        search.tm_lim = SEARCH_MILLISECONDS;
    }
    int result = glp_intopt(deduction->problem, &search);
    int state = glp_mip_status(deduction->problem);
    bool found = (result == 0 || result == GLP_ETMLIM || result == GLP_ESTOP) &&
                 (state == GLP_OPT || state == GLP_FEAS);
    *proven = *proven && result != GLP_ETMLIM && (result != GLP_ESTOP || found);
    return found;
}

/* The end of the range in one direction (GLP_MIN, GLP_MAX). A search cut short gives the best solution found, which lies
 * inside the range: an outsider is then believed to know more than was proven. False when there is no solution. */
static bool find_end(struct rt_deduction *deduction, size_t unknown, int direction, long *end, bool *proven)
{
    glp_prob *problem = deduction->problem;
    glp_set_obj_dir(problem, direction);
    glp_set_obj_coef(problem, column_of(unknown), 1);
    bool found = search(deduction, 0, proven);
    if (found)
        *end = lround(glp_mip_col_val(problem, column_of(unknown)));
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

/* Whole numbers are found soonest where patients have few implants, which is where they are many. */
static void want_large(struct rt_deduction *deduction, double weight)
{
    for (size_t i = 0; i < deduction->unknowns; i++)
        glp_set_obj_coef(deduction->problem, column_of(i), deduction->large[i] ? weight : 0);
    glp_set_obj_dir(deduction->problem, GLP_MAX);
}

/* Solve with the objective as it is, numbers need not be whole. The search begins where the last one ended. False when nothing
 * fulfils the statements. */
static bool solve_linear(struct rt_deduction *deduction)
{
    glp_smcp simplex;
    glp_init_smcp(&simplex);
    simplex.msg_lev = GLP_MSG_OFF;
    int result = glp_simplex(deduction->problem, &simplex);
    if (result != 0) { /* the place where the last search ended is no good */
        glp_std_basis(deduction->problem);
        result = glp_simplex(deduction->problem, &simplex);
    }
    return result == 0 && glp_get_status(deduction->problem) == GLP_OPT;
}

static bool is_whole_solution(const struct rt_deduction *deduction)
{
    for (size_t i = 0; i < deduction->unknowns; i++) {
        double value = glp_get_col_prim(deduction->problem, column_of(i));
        if (fabs(value - round(value)) > CLOSE)
            return false;
    }
    return true;
}

/* The most that the unknown can be when numbers need not be whole, or some number not below enough; false when nothing fulfils the
 * statements. First with a view to all that is to be large, which often gives whole numbers. */
static bool find_linear_most(struct rt_deduction *deduction, size_t unknown, double enough, double *most)
{
    want_large(deduction, 1e-3);
    glp_set_obj_coef(deduction->problem, column_of(unknown), 1);
    bool found = solve_linear(deduction);
    *most = glp_get_col_prim(deduction->problem, column_of(unknown));
    deduction->whole = found && *most >= enough - CLOSE && is_whole_solution(deduction);
    if (found && *most < enough) {
        want_large(deduction, 0);
        glp_set_obj_coef(deduction->problem, column_of(unknown), 1);
        found = solve_linear(deduction);
        *most = glp_get_col_prim(deduction->problem, column_of(unknown));
    }
    want_large(deduction, 0);
    glp_set_obj_coef(deduction->problem, column_of(unknown), 0);
    return found;
}

/* Whole numbers with the unknown at least so large: found or, in *proven, not to be had. */
static bool find_whole(struct rt_deduction *deduction, size_t unknown, long value, bool *proven)
{
    long least = deduction->least[unknown];
    if (value > least) {
        deduction->least[unknown] = value;
        bound_column(deduction, unknown);
    }
    want_large(deduction, 1);
    bool found = search(deduction, SEARCH_STEPS, proven);
    want_large(deduction, 0);
    deduction->least[unknown] = least;
    bound_column(deduction, unknown);
    return found;
}

/* For each unknown a value that rt_can_reach would say yes to, by the solution at hand. */
static void keep_solution(struct rt_deduction *deduction, bool searched)
{
    long *kept =
        rt_grow_array(deduction->solution, &deduction->solution_capacity, deduction->unknowns, sizeof *kept);
    deduction->solved = kept != NULL; /* it only saves time */
    if (kept == NULL)
        return;
    deduction->solution = kept;
    const double least = searched || deduction->whole || deduction->unknowns > SEARCHED ? 1.0 : 2.0;
    for (size_t i = 0; i < deduction->unknowns; i++) {
        double value = searched ? glp_mip_col_val(deduction->problem, column_of(i))
                                : glp_get_col_prim(deduction->problem, column_of(i));
        kept[i] = (long)floor(value / least + CLOSE);
    }
}

enum rt_status rt_can_reach(struct rt_deduction *deduction, size_t unknown, long value, bool *can,
                            struct rt_error *error)
{
    double most = 0.0;
    bool proven = true;
    *can = deduction->whole = deduction->solved = false;
    if (deduction->out_of_memory)
        return rt_fail_memory(error);
    if (deduction->contradicted || value > deduction->most[unknown] ||
        !find_linear_most(deduction, unknown, (double)value, &most) || most < (double)value - CLOSE)
        return RT_OK;
    *can = true;
    if (!deduction->whole && most < 2.0 * (double)value && deduction->unknowns <= SEARCHED) {
        /* so near that it may matter that counts are whole */
        deduction->whole = find_whole(deduction, unknown, value, &proven);
        *can = deduction->whole || !proven;
        if (deduction->whole)
            keep_solution(deduction, true);
    } else {
        keep_solution(deduction, false);
    }
    return RT_OK;
}

size_t rt_last_solution(const struct rt_deduction *deduction, long *values)
{
    if (!deduction->solved)
        return 0;
    for (size_t i = 0; i < deduction->unknowns; i++)
        values[i] = deduction->solution[i];
    return deduction->unknowns;
}
