#include "ridgetally/audit/sample.h"

#include "ridgetally/base/memory.h"

#include <math.h>

enum rt_status rt_sample_start(struct rt_sample *sample, const struct rt_cohort *cohort,
                               struct rt_error *error)
{
    size_t room = cohort->count + 1;
    *sample = (struct rt_sample){.value = rt_new_array(room, sizeof(double)),
                                 .other = rt_new_array(room, sizeof(double)),
                                 .capped = rt_new_array(room, sizeof(bool)),
                                 .code = rt_new_array(room, sizeof(size_t)),
                                 .cluster = rt_new_array(room, sizeof(size_t)),
                                 .implant = rt_new_array(room, sizeof(size_t))};
    bool complete = sample->value != NULL && sample->other != NULL && sample->capped != NULL &&
                    sample->code != NULL && sample->cluster != NULL && sample->implant != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

void rt_sample_clear(struct rt_sample *sample)
{
    sample->n = sample->clusters = 0;
}

void rt_sample_add(struct rt_sample *sample, const struct rt_cohort *cohort, size_t index, double value)
{
    size_t row = sample->n;
    size_t patient = cohort->implants[index].patient;
    if (row == 0 || patient != sample->last_patient)
        sample->clusters++;
    sample->last_patient = patient;
    sample->value[row] = value;
    sample->other[row] = NAN;
    sample->capped[row] = false;
    sample->code[row] = 0;
    sample->cluster[row] = sample->clusters - 1;
    sample->implant[row] = index;
    sample->n++;
}

struct rt_clusters rt_sample_clusters(const struct rt_sample *sample)
{
    return (struct rt_clusters){.of = sample->cluster, .count = sample->clusters};
}

size_t rt_sample_patients(const struct rt_sample *sample, const bool *chosen)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < sample->n; i++) {
        if (!chosen[i] || sample->cluster[i] == last)
            continue;
        patients++;
        last = sample->cluster[i];
    }
    return patients;
}

void rt_sample_release(struct rt_sample *sample)
{
    free(sample->value);
    free(sample->other);
    free(sample->capped);
    free(sample->code);
    free(sample->cluster);
    free(sample->implant);
    *sample = (struct rt_sample){.n = 0};
}
