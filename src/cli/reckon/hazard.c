#include "ridgetally/stats/hazard.h"

#include "ridgetally/cli/reckon_follow_up.h"

#include <string.h>

static const struct rt_reckon_option options[] = {
    RT_RECKON_TIME,
    RT_RECKON_EVENT,
    RT_RECKON_ENTRY,
    {"--numbers", RT_OPTION_NUMBERS_COLUMNS, false, NULL, "columns of numbers", NULL},
    {"--categories", RT_OPTION_CATEGORIES_COLUMNS, false, NULL, "columns of categories", NULL},
    {"--products", RT_OPTION_WORDS, false, NULL, "products of terms, like \"a x b\"", NULL},
    {"--strata", RT_OPTION_CATEGORIES_COLUMNS, false, NULL,
     "a hazard of its own for each level of these columns", NULL},
    {"--ties", RT_OPTION_CHOICE, false, "efron", "how tied events count", "efron|breslow"},
    {"--penalised", RT_OPTION_FLAG, false, NULL, "also the penalised (Firth) estimates", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Cox (1972); ties by Efron (1977) or Breslow (1974). coefficient: log hazard ratio; ratio, lower and "
    "upper: the hazard\n"
    "ratio and its 95% limits. With --cluster robust_error is the sandwich of the dfbeta residuals summed "
    "within clusters\n"
    "(Lin & Wei 1989), and statistic, p, limits, wald and score use it; standard_error stays that of the "
    "model.\n"
    "proportional_p: proportional hazards by scaled Schoenfeld residuals against 1 - Kaplan-Meier (Grambsch "
    "& "
    "Therneau 1994,\n"
    "score form), of each column and (no group) of all; with --cluster from the clusters' efficient scores.\n"
    "A term that orders the failures without exception (monotone likelihood) has no finite estimate; the "
    "penalised estimate\n"
    "(Heinze & Schemper 2001), profile limits, penalised likelihood-ratio p, is then added, with --cluster "
    "divided by the\n"
    "design effect and approximate.\n" RT_RECKON_TIES_NOTE;

/* One model and what has been computed of it. */
struct job {
    struct rt_reckon_design design;
    struct rt_hazard_model model;
    struct rt_hazard fit;
    size_t *set;       /* p: which column or product a term belongs to */
    const char **sets; /* names of those */
    size_t set_count;
};

/* Place of the first = that stands for itself, or the length of the text. */
static size_t name_length(const char *term)
{
    size_t i = 0;
    while (term[i] != '\0' && term[i] != '=')
        i += term[i] == '\\' && term[i + 1] != '\0' ? 2 : 1;
    return i;
}

/* Gather terms of one category or one product into sets for the test of proportional hazards. */
static enum rt_status gather_sets(struct rt_reckon *r, struct job *job, struct rt_error *error)
{
    size_t p = job->design.p;
    size_t product_count = 0;
    const char *const *products = rt_reckon_words(r, "--products", &product_count, error);
    job->set = rt_reckon_array(r, p, sizeof *job->set, error);
    job->sets = rt_reckon_array(r, p, sizeof *job->sets, error);
    if (products == NULL || job->set == NULL || job->sets == NULL)
        return RT_MEMORY;
    for (size_t j = 0; j < p; j++) {
        const char *term = job->design.terms[j];
        size_t length = name_length(term);
        size_t product = job->design.product[j];
        bool same = j > 0 && product == job->design.product[j - 1];
        if (same && product == 0) {
            const char *previous = job->design.terms[j - 1];
            same = term[length] == '=' && previous[name_length(previous)] == '=' &&
                   name_length(previous) == length && strncmp(term, previous, length) == 0;
        }
        if (same) {
            job->set[j] = job->set_count - 1;
            continue;
        }
        char *name = rt_reckon_array(r, length + 1, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        memcpy(name, term, length);
        job->set[j] = job->set_count;
        job->sets[job->set_count++] =
            product > 0 && product <= product_count ? rt_reckon_escape(r, products[product - 1]) : name;
    }
    return RT_OK;
}

static void write_terms(struct rt_reckon *r, const struct job *job)
{
    for (size_t j = 0; j < job->design.p; j++) {
        const struct rt_estimate *b = &job->fit.coefficient[j];
        const char *term = job->design.terms[j];
        rt_reckon_row(r, "coefficient", term, NAN, b->value, b->reason);
        rt_reckon_row(r, "standard_error", term, NAN, job->fit.model_error[j], b->reason);
        if (r->clusters.of != NULL)
            rt_reckon_row(r, "robust_error", term, NAN, job->fit.robust_error[j], b->reason);
        const char *too_large = b->reason != NULL ? b->reason : "too large for a number";
        rt_reckon_row(r, "ratio", term, NAN, exp(b->value), too_large);
        rt_reckon_row(r, "lower", term, NAN, exp(b->lower), too_large);
        rt_reckon_row(r, "upper", term, NAN, exp(b->upper), too_large);
        rt_reckon_row(r, "statistic", term, NAN, b->statistic, b->reason);
        rt_reckon_row(r, "p", term, NAN, b->p, b->reason);
    }
}

static void write_test(struct rt_reckon *r, const char *name, const char *name_p,
                       const struct rt_estimate *test)
{
    rt_reckon_row(r, name, NULL, NAN, test->statistic, test->reason);
    rt_reckon_row(r, name_p, NULL, NAN, test->p, test->reason);
}

static void write_model(struct rt_reckon *r, const struct job *job)
{
    const struct rt_hazard *fit = &job->fit;
    double null = fit->events == 0 ? NAN : fit->log_likelihood_null;
    double full = fit->events == 0 ? NAN : fit->log_likelihood;
    rt_reckon_row(r, "log_likelihood", NULL, NAN, full, fit->reason);
    rt_reckon_row(r, "log_likelihood_null", NULL, NAN, null, fit->reason);
    write_test(r, "likelihood_ratio", "likelihood_ratio_p", &fit->likelihood_ratio);
    write_test(r, "wald", "wald_p", &fit->wald);
    write_test(r, "score", "score_p", &fit->score);
    rt_reckon_row(r, "df", NULL, NAN, fit->model_score.df, fit->reason);
    rt_reckon_row(r, "n", NULL, NAN, (double)fit->n, NULL);
    rt_reckon_row(r, "events", NULL, NAN, (double)fit->events, NULL);
    if (r->clusters.of != NULL)
        rt_reckon_row(r, "clusters", NULL, NAN, (double)fit->clusters_present, NULL);
}

static enum rt_status write_proportional(struct rt_reckon *r, const struct job *job, struct rt_error *error)
{
    struct rt_estimate all;
    struct rt_estimate *by_set = rt_reckon_array(r, job->set_count, sizeof *by_set, error);
    if (by_set == NULL)
        return RT_MEMORY;
    enum rt_status status =
        rt_hazard_proportional(&job->model, &job->fit, job->set, job->set_count, by_set, &all, error);
    if (status != RT_OK)
        return status;
    rt_reckon_row(r, "proportional_p", NULL, NAN, all.p, all.reason);
    rt_reckon_row(r, "proportional_statistic", NULL, NAN, all.statistic, all.reason);
    for (size_t s = 0; s < job->set_count; s++) {
        rt_reckon_row(r, "proportional_p", job->sets[s], NAN, by_set[s].p, by_set[s].reason);
        rt_reckon_row(r, "proportional_statistic", job->sets[s], NAN, by_set[s].statistic, by_set[s].reason);
    }
    return RT_OK;
}

static enum rt_status write_penalised(struct rt_reckon *r, const struct job *job, struct rt_error *error)
{
    struct rt_estimate *terms = rt_reckon_array(r, job->design.p, sizeof *terms, error);
    if (terms == NULL)
        return RT_MEMORY;
    enum rt_status status = rt_hazard_penalised(&job->model, terms, NULL, error);
    for (size_t j = 0; status == RT_OK && j < job->design.p; j++) {
        const char *term = job->design.terms[j];
        const char *reason = terms[j].reason;
        rt_reckon_row(r, "penalised_coefficient", term, NAN, terms[j].value, reason);
        rt_reckon_row(r, "penalised_error", term, NAN, terms[j].standard_error, reason);
        rt_reckon_row(r, "penalised_ratio", term, NAN, exp(terms[j].value), reason);
        rt_reckon_row(r, "penalised_lower", term, NAN, exp(terms[j].lower), reason);
        rt_reckon_row(r, "penalised_upper", term, NAN, exp(terms[j].upper),
                      reason != NULL ? reason : "too large for a number");
        rt_reckon_row(r, "penalised_statistic", term, NAN, terms[j].statistic, reason);
        rt_reckon_row(r, "penalised_p", term, NAN, terms[j].p, reason);
    }
    return status;
}

static enum rt_status read_model(struct rt_reckon *r, struct job *job, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct rt_reckon_group *strata = NULL;
    size_t *codes = NULL;
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = rt_reckon_design(r, false, &job->design, error);
    if (status == RT_OK)
        status = gather_sets(r, job, error);
    if (status == RT_OK && rt_reckon_given(r, "--strata")) {
        status = rt_reckon_groups(r, "--strata", &strata, &job->model.strata, error);
        if (status == RT_OK)
            status = rt_reckon_group_codes(r, strata, job->model.strata, &codes, error);
        job->model.stratum = codes;
    }
    job->model.data = (struct rt_follow_up){
        .n = r->n, .time = times.time, .entry = times.entry, .event = times.event, .clusters = r->clusters};
    job->model.terms = job->design.p;
    job->model.x = job->design.x;
    job->model.ties = strcmp(rt_reckon_text(r, "--ties"), "breslow") == 0 ? RT_TIES_BRESLOW : RT_TIES_EFRON;
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct job job = {0};
    enum rt_status status = read_model(r, &job, error);
    if (status == RT_OK)
        status = rt_hazard(&job.fit, &job.model, error);
    if (status == RT_OK) {
        write_terms(r, &job);
        write_model(r, &job);
        status = write_proportional(r, &job, error);
    }
    bool penalised = rt_reckon_given(r, "--penalised") || job.fit.monotone;
    if (status == RT_OK && job.fit.monotone)
        rt_reckon_remark(
            r, "the likelihood is monotone: no finite estimate for some terms; penalised estimates added");
    if (status == RT_OK && penalised)
        status = write_penalised(r, &job, error);
    rt_hazard_release(&job.fit);
    return status;
}

const struct rt_reckon_method rt_reckon_hazard = {
    "hazard",
    "proportional hazards regression",
    "coefficient standard_error ratio lower upper statistic p (group = term); log_likelihood\n"
    "log_likelihood_null likelihood_ratio likelihood_ratio_p wald wald_p score score_p df n events;\n"
    "proportional_p proportional_statistic (group empty or column); with --cluster also robust_error "
    "(group)\n"
    "clusters; with --penalised, or when an estimate is infinite, penalised_coefficient penalised_error\n"
    "penalised_ratio penalised_lower penalised_upper (of the ratio) penalised_statistic penalised_p (group)",
    notes,
    options,
    run};
