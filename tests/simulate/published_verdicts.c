#include "published_verdicts.h"
#include "table_lines.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Where cell number `cell` of a line begins (from 0). */
static const char *cell_of(const char *line, int cell)
{
    for (; cell > 0 && *line != '\0'; cell--)
        line += strcspn(line, ",") + (line[strcspn(line, ",")] == ',');
    return line;
}

enum { IMPLANTS = 3, SIMULATED, SUPPORTED, NOT_SUPPORTED, DEFINED = 10, COVERAGE = 12 };

static bool read_line(const char *line, struct published_verdict *verdict)
{
    *verdict = (struct published_verdict){.implants = 0};
    if (sscanf(line, "%31[^,],%47[^,],", verdict->practices, verdict->rule) != 2)
        return false;
    struct verdict_counts *counts = &verdict->counts;
    verdict->implants = (int)strtol(cell_of(line, IMPLANTS), NULL, 10);
    counts->practices = strtol(cell_of(line, SIMULATED), NULL, 10);
    counts->supported = strtol(cell_of(line, SUPPORTED), NULL, 10);
    counts->refuted = strtol(cell_of(line, NOT_SUPPORTED), NULL, 10);
    counts->defined = strtol(cell_of(line, DEFINED), NULL, 10);
    counts->covered = lround(strtod(cell_of(line, COVERAGE), NULL) * (double)counts->defined);
    return verdict->implants > 0 && counts->practices > 0;
}

static bool add_line(const char *line, void *where, struct rt_error *error)
{
    struct published_verdicts *published = where;
    struct published_verdict *lines =
        rt_grow_array(published->lines, &published->capacity, published->count + 1, sizeof *lines);
    if (lines == NULL) {
        rt_fail_memory(error);
        return false;
    }
    published->lines = lines;
    return read_line(line, &lines[published->count]) && ++published->count > 0;
}

enum rt_status read_published_verdicts(const char *path, struct published_verdicts *published,
                                       struct rt_error *error)
{
    *published = (struct published_verdicts){.lines = NULL};
    return for_each_line(path, add_line, published, error);
}

void release_published_verdicts(struct published_verdicts *published)
{
    free(published->lines);
    *published = (struct published_verdicts){.lines = NULL};
}

/* found of n where known of all were so; both tails. */
static bool is_likely(long found, long n, long known, long all)
{
    if (n <= 0 || all <= 0)
        return n <= 0 || all > 0;
    /* a little room where none or all were */
    const double room = 0.5 / (double)all;
    const double p = fmin(1.0 - room, fmax(room, (double)known / (double)all));
    return gsl_cdf_binomial_P((unsigned)found, p, (unsigned)n) >= 0.0005 &&
           (found == 0 || gsl_cdf_binomial_Q((unsigned)(found - 1), p, (unsigned)n) >= 0.0005);
}

bool fits_published(const struct published_verdicts *published, const char *practices, const char *rule,
                    int implants, const struct verdict_counts *counts)
{
    for (size_t i = 0; i < published->count; i++) {
        const struct published_verdict *line = &published->lines[i];
        if (line->implants != implants || strcmp(line->rule, rule) != 0 ||
            strcmp(line->practices, practices) != 0)
            continue;
        const struct verdict_counts *known = &line->counts;
        return is_likely(counts->supported, counts->practices, known->supported, known->practices) &&
               is_likely(counts->refuted, counts->practices, known->refuted, known->practices) &&
               is_likely(counts->defined, counts->practices, known->defined, known->practices) &&
               (counts->defined == 0 || known->defined == 0 ||
                is_likely(counts->covered, counts->defined, known->covered, known->defined));
    }
    return false;
}
