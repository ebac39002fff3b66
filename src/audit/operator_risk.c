#include "ridgetally/audit/operator_risk.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/operator_baseline.h"
#include "ridgetally/audit/rows.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/firth.h"
#include "ridgetally/stats/root.h"
#include "ridgetally/store/query.h"

#include <math.h>

/* --- facts of a session ---------------------------------------------------------------------------------- */

/* The column of a term, NaN where the fact is not recorded. */
static double fact_of(const struct rt_session *session, enum rt_risk_term term, bool lz)
{
    switch (term) {
    case RT_RISK_INTERCEPT:
        return 1.0;
    case RT_RISK_SOFTEST:
        return session->softest > 0 && session->lz == lz ? (double)session->softest : NAN;
    case RT_RISK_SMOKER:
        return session->current_smoker != RT_ANSWER_MISSING ? (double)session->current_smoker : NAN;
    case RT_RISK_GRAFT:
        return session->graft != RT_ANSWER_MISSING ? (double)session->graft : NAN;
    case RT_RISK_IMPLANTS:
        return log2((double)(session->known > 0 ? session->known : session->count));
    }
    return NAN;
}

static double log_odds(double share)
{
    return log(share / (1.0 - share));
}

static double share_of(double odds)
{
    return 1.0 / (1.0 + exp(-odds));
}

static double linear_predictor(const struct rt_operator_risk *risk, const struct rt_session *session)
{
    double sum = 0.0;
    for (int term = 0; term < RT_RISK_TERMS; term++)
        if (!isnan(risk->coefficient[term]))
            sum += risk->coefficient[term] * fact_of(session, (enum rt_risk_term)term, risk->lz);
    return sum;
}

bool rt_has_risk_facts(const struct rt_operator_risk *risk, const struct rt_session *session)
{
    return !isnan(linear_predictor(risk, session));
}

double rt_session_risk(const struct rt_operator_risk *risk, const struct rt_session *session)
{
    double odds = risk->adjusted ? linear_predictor(risk, session) : NAN;
    if (isnan(odds))
        return risk->level;
    return share_of(odds + log_odds(risk->level) - log_odds(risk->share));
}

bool rt_is_watched(const struct rt_operator_risk *risk, const struct rt_session *session)
{
    if (session->state != RT_SESSION_KNOWN)
        return false;
    return risk->reference != RT_RISK_OWN || session->placed_on + RT_EARLY_DAYS > risk->fitted_to;
}

/* --- the reference --------------------------------------------------------------------------------------- */

/* Sessions of the reference whose facts are complete, as rows of a model. */
struct reference {
    size_t n, terms;
    enum rt_risk_term term[RT_RISK_TERMS];
    int *event;
    double *x;
};

static bool is_failed(const struct rt_session *session)
{
    return session->state == RT_SESSION_KNOWN && session->failed;
}

static bool is_known(const struct rt_session *session)
{
    return session->state == RT_SESSION_KNOWN;
}

/* Known sessions of the others; and how many of them failed. */
static size_t count_others(const struct rt_sessions *sessions, int operator_code, size_t *failed)
{
    size_t known = 0;
    *failed = 0;
    for (size_t i = 0; i < sessions->count; i++) {
        if (sessions->of[i].operator_code == operator_code || !is_known(&sessions->of[i]))
            continue;
        known++;
        *failed += sessions->of[i].failed;
    }
    return known;
}

/* A term is used when it is recorded in at least four of five of the others' sessions. */
static void choose_terms(const struct rt_sessions *sessions, int operator_code, size_t known,
                         struct reference *reference)
{
    reference->terms = 0;
    for (int term = 0; term < RT_RISK_TERMS; term++) {
        size_t recorded = 0;
        for (size_t i = 0; i < sessions->count; i++)
            recorded += sessions->of[i].operator_code != operator_code && is_known(&sessions->of[i]) &&
                        !isnan(fact_of(&sessions->of[i], (enum rt_risk_term)term, sessions->lz));
        if (5 * recorded >= 4 * known)
            reference->term[reference->terms++] = (enum rt_risk_term)term;
    }
}

static void take_reference(const struct rt_sessions *sessions, int operator_code, struct reference *reference)
{
    reference->n = 0;
    for (size_t i = 0; i < sessions->count; i++) {
        const struct rt_session *session = &sessions->of[i];
        bool complete = session->operator_code != operator_code && is_known(session);
        double *row = reference->x + reference->n * reference->terms;
        for (size_t term = 0; term < reference->terms && complete; term++) {
            row[term] = fact_of(session, reference->term[term], sessions->lz);
            complete = !isnan(row[term]);
        }
        if (complete)
            reference->event[reference->n++] = session->failed;
    }
}

/* --- the model ------------------------------------------------------------------------------------------- */

struct intercept_search {
    const double *predictor;
    size_t n;
    double events;
};

/* Expected minus observed failures when every log odds is moved by `shift`. */
static double excess(double shift, void *parameters)
{
    const struct intercept_search *search = parameters;
    double sum = -search->events;
    for (size_t i = 0; i < search->n; i++)
        sum += share_of(search->predictor[i] + shift);
    return sum;
}

/* Move the intercept so that the model expects what was seen. predictor: n, scratch. */
static void set_intercept(struct rt_operator_risk *risk, const struct reference *reference, double *predictor)
{
    struct intercept_search search = {predictor, reference->n, 0.0};
    for (size_t i = 0; i < reference->n; i++) {
        predictor[i] = 0.0;
        for (size_t term = 0; term < reference->terms; term++) {
            double coefficient = risk->coefficient[reference->term[term]];
            if (!isnan(coefficient))
                predictor[i] += coefficient * reference->x[i * reference->terms + term];
        }
        search.events += reference->event[i];
    }
    risk->coefficient[RT_RISK_INTERCEPT] += rt_find_root(excess, &search, -30.0, 30.0);
    risk->share = search.events / (double)reference->n;
}

static enum rt_status fit_model(const struct reference *reference, struct rt_operator_risk *risk,
                                struct rt_error *error)
{
    struct rt_firth fit = {.n = 0};
    double *predictor = rt_new_array(reference->n + 1, sizeof *predictor);
    enum rt_status status = predictor == NULL ? rt_fail_memory(error)
                                              : rt_firth_estimates(&fit, reference->event, reference->x,
                                                                   reference->n, reference->terms, error);
    if (status == RT_OK && fit.reason == NULL) {
        for (size_t term = 0; term < reference->terms; term++)
            risk->coefficient[reference->term[term]] = fit.coefficient[term].value;
        set_intercept(risk, reference, predictor);
        risk->adjusted = !isnan(risk->coefficient[RT_RISK_INTERCEPT]);
    }
    rt_firth_release(&fit);
    free(predictor);
    return status;
}

/* A model from the other operators; without one, their share where they have failures enough. */
static enum rt_status fit_rest(const struct rt_sessions *sessions, int operator_code,
                               struct rt_operator_risk *risk, struct rt_error *error)
{
    struct reference reference = {.n = 0};
    size_t failed_patients = 0, failed, known = count_others(sessions, operator_code, &failed);
    size_t first, own = rt_sessions_of(sessions, operator_code, &first);
    enum rt_status status =
        rt_count_session_patients(sessions, first, own, true, is_known, &risk->patients, error);
    if (status == RT_OK)
        status = rt_count_session_patients(sessions, first, own, true, is_failed, &failed_patients, error);
    if (status != RT_OK || risk->patients < RT_LEAST_PATIENTS || failed_patients < RT_LEAST_EVENT_PATIENTS ||
        failed == known)
        return status;
    risk->reference = RT_RISK_REST;
    risk->sessions = known;
    risk->failed = failed;
    risk->share = (double)failed / (double)known;
    choose_terms(sessions, operator_code, known, &reference);
    reference.event = rt_new_array(known + 1, sizeof *reference.event);
    reference.x = rt_new_array((known + 1) * RT_RISK_TERMS, sizeof *reference.x);
    if (reference.event == NULL || reference.x == NULL) {
        status = rt_fail_memory(error);
    } else {
        take_reference(sessions, operator_code, &reference);
        status = fit_model(&reference, risk, error);
    }
    free(reference.event);
    free(reference.x);
    return status;
}

/* The share of the operator's own first sessions, where these are there and some failed. */
static enum rt_status fit_own(const struct rt_sessions *sessions, int operator_code,
                              struct rt_operator_risk *risk, struct rt_error *error)
{
    size_t first, count = rt_sessions_of(sessions, operator_code, &first);
    size_t known = 0, failed = 0, last = first, failed_patients = 0;
    if (count == 0)
        return RT_OK;
    for (size_t i = first; i < first + count && known < RT_OWN_SESSIONS; i++) {
        known += is_known(&sessions->of[i]);
        failed += is_failed(&sessions->of[i]);
        last = i;
    }
    enum rt_status status = rt_count_session_patients(sessions, first, last + 1 - first, false, is_failed,
                                                      &failed_patients, error);
    if (status == RT_OK)
        status = rt_count_session_patients(sessions, first, last + 1 - first, false, is_known,
                                           &risk->patients, error);
    if (status != RT_OK || known < RT_OWN_SESSIONS || failed_patients < RT_LEAST_EVENT_PATIENTS ||
        failed == known)
        return status;
    risk->reference = RT_RISK_OWN;
    risk->fitted_to = sessions->of[last].placed_on + RT_EARLY_DAYS;
    risk->sessions = known;
    risk->failed = failed;
    risk->share = (double)failed / (double)known;
    return RT_OK;
}

/* --- the level ------------------------------------------------------------------------------------------- */

/* Sessions that fail for each implant that does, in the whole practice; without a failure, implants of a session: the
 * most it can be. */
static double session_ratio(const struct rt_sessions *sessions)
{
    double known = 0.0, failed = 0.0, implants = 0.0, failures = 0.0;
    for (size_t i = 0; i < sessions->count; i++) {
        const struct rt_session *session = &sessions->of[i];
        if (!is_known(session))
            continue;
        known++;
        failed += session->failed;
        implants += (double)session->known;
        failures += (double)session->failures;
    }
    if (known == 0.0)
        return 1.0;
    return failures > 0.0 ? failed / known / (failures / implants) : implants / known;
}

static enum rt_status load_target(struct rt_store *store, int first_day, double *target,
                                  struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *target = NAN;
    enum rt_status status = rt_query_open(store, "sql/queries/early-failure-target.sql", &query, error);
    rt_bind_integer(query, ":first_day", first_day);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        *target = rt_column_real(query, 0);
    rt_query_close(query);
    return status;
}

static void set_level(const struct rt_sessions *sessions, struct rt_operator_risk *risk)
{
    if (isnan(risk->target)) {
        risk->level = risk->share;
        risk->reason =
            risk->reference == RT_RISK_NONE
                ? "no target is set, and too few failures to compare with: fewer than 5 patients of the "
                  "other operators, or of the operator's own first 50 sessions"
                : NULL;
        return;
    }
    risk->level = risk->target * session_ratio(sessions);
    if (!(risk->level > 0.0 && risk->level < 1.0)) {
        risk->level = NAN;
        risk->reference = RT_RISK_NONE;
        risk->reason = "a target of none or all cannot be watched by this chart";
    } else if (risk->reference == RT_RISK_NONE) {
        risk->reference = RT_RISK_TARGET;
        risk->share = risk->level;
    }
}

enum rt_status rt_operator_risk(struct rt_store *store, const struct rt_cohort *cohort,
                                const struct rt_sessions *sessions, int operator_code,
                                struct rt_operator_risk *risk, struct rt_error *error)
{
    const struct rt_risk_chart none = {NAN, NAN, NAN};
    double frozen_level;
    *risk = (struct rt_operator_risk){.fitted_to = cohort->period.last_day,
                                      .lz = sessions->lz,
                                      .share = NAN,
                                      .level = NAN,
                                      .chart = {none, none}};
    for (int term = 0; term < RT_RISK_TERMS; term++)
        risk->coefficient[term] = NAN;
    enum rt_status status = load_target(store, cohort->period.first_day, &risk->target, error);
    if (status == RT_OK)
        status = rt_load_operator_baseline(store, cohort->operators[operator_code], cohort->period.last_day,
                                           risk, &frozen_level, error);
    if (status == RT_OK && !risk->frozen)
        status = fit_rest(sessions, operator_code, risk, error);
    if (status == RT_OK && !risk->frozen && risk->reference == RT_RISK_NONE)
        status = fit_own(sessions, operator_code, risk, error);
    if (status != RT_OK)
        return status;
    set_level(sessions, risk);
    if (!(fabs(frozen_level - risk->level) <= 1e-12 * risk->level))
        risk->chart[0] = risk->chart[1] = none;
    return RT_OK;
}
