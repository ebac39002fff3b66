#include "audited.h"

#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

enum rt_status open_new_store(struct new_store *new_store, struct rt_error *error)
{
    char folder[] = "/tmp/ridgetally-simulate-XXXXXX", path[64];
    const struct rt_period period = {0, 30000};
    if (mkdtemp(folder) == NULL)
        return rt_fail(error, RT_STORE, "no folder for a store in /tmp");
    snprintf(path, sizeof path, "%s/new.db", folder);
    enum rt_status status = rt_store_create(path, error);
    if (status == RT_OK)
        status = rt_store_open(path, RT_STORE_READ, &new_store->store, error);
    if (status == RT_OK)
        status = rt_load_cohort(new_store->store, &period, &new_store->empty, error);
    unlink(path);
    rmdir(folder);
    return status;
}

void close_new_store(struct new_store *new_store)
{
    rt_release_cohort(&new_store->empty);
    rt_store_close(new_store->store);
}

struct rt_sample_settings settings_of(int implants, long number)
{
    struct rt_sample_settings settings = rt_sample_defaults();
    settings.seed = (uint64_t)implants * 1000003u + (uint64_t)number;
    settings.implants = implants;
    return settings;
}

static void audit_cohort(struct rt_store *store, const struct rt_cohort *cohort, const bool *parts,
                         struct rt_rows *rows)
{
    struct rt_reading_errors errors;
    if (!rt_rows_check(rows, rt_reading_errors(store, cohort->period.last_day, &errors, rows->error)))
        return;
    if (parts[PART_FLOW])
        rt_flow_figures(cohort, rows);
    if (parts[PART_DEPTH])
        rt_depth_figures(cohort, rows);
    if (parts[PART_STABILITY])
        rt_stability_figures(cohort, rows);
    if (parts[PART_SLOPE])
        rt_torque_slope_figures(cohort, rows);
    if (parts[PART_CREST])
        rt_crest_figures(cohort, rows);
    if (parts[PART_CREST])
        rt_crest_error_figures(&errors, cohort, rows);
    if (parts[PART_CREST])
        rt_success_figures(&errors, cohort, rows);
    if (parts[PART_MODEL])
        rt_crest_model_figures(&errors, cohort, rows);
    if (parts[PART_MODEL])
        rt_crest_curve_figures(cohort, rows);
    if (parts[PART_MODEL])
        rt_crest_adjusted_figures(cohort, rows);
    if (parts[PART_SURVIVAL])
        rt_survival_figures(cohort, rows);
    if (parts[PART_SURVIVAL])
        rt_survival_table_figures(cohort, rows);
    if (parts[PART_SURVIVAL])
        rt_failure_figures(cohort, rows);
    if (parts[PART_SURVIVAL])
        rt_survival_check_figures(cohort, rows);
    if (parts[PART_HAZARD])
        rt_hazard_figures(cohort, rows);
    if (parts[PART_READERS])
        rt_reader_figures(store, cohort, rows);
    for (int earlier = 0; parts[PART_CHANGE] && earlier < RT_EARLIER_PERIODS; earlier++)
        rt_change_figures(store, cohort, (enum rt_earlier)earlier, rows);
}

enum rt_status audit_intervals(struct rt_store *store, const struct rt_cohort *cohort, const bool *parts,
                               struct interval *intervals, struct rt_error *error)
{
    size_t count;
    simulated_measures(&count);
    struct rt_figure_list figures = {.count = 0};
    struct rt_rows rows = {.list = &figures, .error = error, .status = RT_OK};
    const struct rt_figure **found = rt_new_array(count, sizeof *found);
    if (found == NULL)
        return rt_fail_memory(error);
    audit_cohort(store, cohort, parts, &rows);
    find_measures(&figures, found);
    for (size_t i = 0; i < count; i++) {
        intervals[i] = (struct interval){NAN, NAN, NAN, RT_NO_COUNT, RT_NO_COUNT};
        if (found[i] != NULL && found[i]->state == RT_FIGURE_OK)
            intervals[i] = (struct interval){found[i]->value, found[i]->lower, found[i]->upper,
                                             found[i]->n_events, found[i]->n_patients};
    }
    rt_release_figures(&figures);
    free((void *)found);
    return rows.status;
}

bool is_defined(const struct interval *interval)
{
    return !isnan(interval->value) && (!isnan(interval->lower) || !isnan(interval->upper));
}

bool covers(const struct interval *interval, double truth)
{
    const double slack = 1e-9 * fmax(1.0, fabs(truth));
    return !(interval->lower > truth + slack) && !(interval->upper < truth - slack);
}

enum rt_status in_processes(long processes,
                            enum rt_status (*work)(void *context, long process, struct rt_error *error),
                            void *context, struct rt_error *error)
{
    long started = 0;
    for (; started < processes; started++) {
        pid_t child = fork();
        if (child < 0)
            break;
        if (child == 0) {
            enum rt_status status = work(context, started, error);
            if (status != RT_OK)
                rt_error_print(error, stderr);
            _exit(status == RT_OK ? 0 : 1);
        }
    }
    bool good = started == processes;
    for (int ended; started > 0; started--)
        good = wait(&ended) > 0 && WIFEXITED(ended) && WEXITSTATUS(ended) == 0 && good;
    return good ? RT_OK : rt_fail(error, RT_USE, "a process of the simulation failed");
}

void *shared_array(size_t count, size_t size)
{
    void *memory = mmap(NULL, (count + 1) * size, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    return memory == MAP_FAILED ? NULL : memory;
}
