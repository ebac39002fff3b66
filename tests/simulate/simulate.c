/*
 * simulate [truths | rules] [--practices N] [--processes K] [--long-run N] [--part NAME]... [--published FILE] [--out FILE]
 *
 * How often the audit's intervals hold the truth. Practices of 30, 100 and 400 implants are invented (patients with
 * unequal numbers of implants, heaped readings, missed visits, loss that failures make likelier) and audited with the
 * program's own functions; each interval is held against what the same figure comes to in the long run, in practices of
 * 16,000 implants under the same rules, and beside it the interval of the same records with every implant made a patient
 * of its own. Readers and changes since an earlier period go through files and a store (stored.h). Survival is also held against what truly happened, whoever stayed away.
 * With --published, the run must also be one that the table of an earlier, longer run leaves likely.
 *
 * rules: how often the verdicts on house rules are right, and their intervals hold the truth, where some of the rules hold by
 * construction and some do not (30, 100, 400 and 4,000 implants; with --published a quarter as many of the largest).
 * truths: the same on the whole way from file to figure, against the truths the practices were made with.
 */
#include "coverage.h"
#include "rules.h"
#include "truths.h"

#include "ridgetally/base/number.h"

#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <string.h>

static bool choose_part(const char *name, bool *parts)
{
    for (int part = 0; part < PARTS; part++)
        if (name != NULL && strcmp(name, name_of_part((enum part)part)) == 0)
            return parts[part] = true;
    return false;
}

static enum rt_status read_arguments(int argc, char **argv, int first, struct coverage_settings *settings,
                                     struct rt_error *error)
{
    bool chosen = false;
    for (int i = first; i < argc; i += 2) {
        long number = 0;
        const char *value = i + 1 < argc ? argv[i + 1] : NULL;
        bool is_number = rt_parse_integer(value, &number) && number > 0 && number <= 100000;
        if (strcmp(argv[i], "--practices") == 0 && is_number)
            settings->practices = number;
        else if (strcmp(argv[i], "--processes") == 0 && is_number)
            settings->processes = number;
        else if (strcmp(argv[i], "--long-run") == 0 && is_number)
            settings->long_run = number;
        else if (strcmp(argv[i], "--part") == 0 && choose_part(value, settings->parts))
            chosen = true;
        else if (strcmp(argv[i], "--published") == 0 && value != NULL)
            settings->published = value;
        else if (strcmp(argv[i], "--out") == 0 && value != NULL)
            settings->out = value;
        else
            return rt_fail(error, RT_USE, "cannot use argument '%s'", argv[i]);
    }
    for (int part = 0; part < PARTS && !chosen; part++)
        settings->parts[part] = true;
    return RT_OK;
}

static enum rt_status run_truths(int argc, char **argv, struct rt_error *error)
{
    struct coverage_settings given = {.practices = 400, .processes = 2};
    enum rt_status status = read_arguments(argc, argv, 2, &given, error);
    const struct truth_settings settings = {given.practices, given.processes, given.out};
    return status == RT_OK ? simulate_truths(&settings, error) : status;
}

static enum rt_status run_coverage(int argc, char **argv, struct rt_error *error)
{
    struct coverage_settings settings = {.practices = 2000, .processes = 2, .long_run = 25};
    struct new_store new_store = {.store = NULL};
    enum rt_status status = read_arguments(argc, argv, 1, &settings, error);
    if (status == RT_OK)
        status = open_new_store(&new_store, error);
    if (status == RT_OK)
        status = check_cohort(&new_store, error);
    if (status == RT_OK)
        status = simulate_coverage(&settings, &new_store, error);
    close_new_store(&new_store);
    return status;
}

static enum rt_status run_rules(int argc, char **argv, struct rt_error *error)
{
    struct coverage_settings given = {.practices = 400, .processes = 2};
    struct new_store new_store = {.store = NULL};
    enum rt_status status = read_arguments(argc, argv, 2, &given, error);
    const struct rule_settings settings = {.practices = given.practices,
                                           .large_share = given.published == NULL ? 1 : 4,
                                           .processes = given.processes,
                                           .out = given.out,
                                           .published = given.published};
    if (status == RT_OK)
        status = open_new_store(&new_store, error);
    if (status == RT_OK)
        status = simulate_rules(&settings, &new_store, error);
    close_new_store(&new_store);
    return status;
}

int main(int argc, char **argv)
{
    struct rt_error error = {0};
    gsl_set_error_handler_off();
    bool truths = argc > 1 && strcmp(argv[1], "truths") == 0;
    bool rules = argc > 1 && strcmp(argv[1], "rules") == 0;
    enum rt_status status = truths  ? run_truths(argc, argv, &error)
                            : rules ? run_rules(argc, argv, &error)
                                    : run_coverage(argc, argv, &error);
    if (status != RT_OK)
        rt_error_print(&error, stderr);
    return rt_exit_code(status);
}
