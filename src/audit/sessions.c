#include "ridgetally/audit/sessions.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/base/memory.h"

#include <math.h>

/* One implant on its way into a session. */
struct placing {
    int operator_code, placed_on;
    size_t patient, implant;
};

static int compare_numbers(long long a, long long b)
{
    return (a > b) - (a < b);
}

static int compare_placings(const void *left, const void *right)
{
    const struct placing *a = left, *b = right;
    int order = compare_numbers(a->operator_code, b->operator_code);
    if (order == 0)
        order = compare_numbers(a->placed_on, b->placed_on);
    if (order == 0)
        order = compare_numbers((long long)a->patient, (long long)b->patient);
    return order != 0 ? order : compare_numbers((long long)a->implant, (long long)b->implant);
}

static bool same_session(const struct placing *a, const struct placing *b)
{
    return a->operator_code == b->operator_code && a->placed_on == b->placed_on && a->patient == b->patient;
}

static size_t take_placings(const struct rt_cohort *cohort, struct placing *placings)
{
    size_t count = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        if (implant->operator_code >= 0)
            placings[count++] =
                (struct placing){implant->operator_code, implant->placed_on, implant->patient, i};
    }
    if (count > 0)
        qsort(placings, count, sizeof *placings, compare_placings);
    return count;
}

/* The scale on which more densities were found; D when they are as many. */
static bool lz_is_more_frequent(const struct rt_cohort *cohort, const struct rt_sessions *sessions)
{
    size_t lz = 0, d = 0;
    for (size_t i = 0; i < sessions->implants; i++) {
        const struct rt_density *found = &cohort->implants[sessions->implant[i]].found;
        lz += found->of > 0 && found->lz;
        d += found->of > 0 && !found->lz;
    }
    return lz > d;
}

static void add_depth(struct rt_session *session, const struct rt_audit_implant *implant)
{
    double error = implant->achieved_depth_mm - implant->planned_depth_mm;
    if ((implant->blocked & RT_BLOCKS_DEPTH) != 0 || isnan(error))
        return;
    double sum =
        session->depth_implants == 0 ? 0.0 : session->depth_error_mm * (double)session->depth_implants;
    session->depth_implants++;
    session->depth_error_mm = (sum + error) / (double)session->depth_implants;
}

static enum rt_answer either(enum rt_answer a, enum rt_answer b)
{
    return a > b ? a : b; /* missing < no < yes */
}

static void add_facts(struct rt_session *session, const struct rt_audit_implant *implant, bool lz)
{
    if (implant->found.of > session->softest && implant->found.lz == lz)
        session->softest = implant->found.of;
    session->graft = either(session->graft, implant->graft);
    if (implant->smoking >= 0)
        session->current_smoker =
            either(session->current_smoker, implant->smoking == 2 ? RT_ANSWER_YES : RT_ANSWER_NO);
}

/* The state, and whether the implant's fate at 180 days is known. */
static bool add_fate(const struct rt_cohort *cohort, struct rt_session *session,
                     const struct rt_audit_implant *implant)
{
    if (!rt_early_is_due(cohort, implant))
        return false;
    enum rt_early_state early = rt_early_state(cohort, implant);
    if (early == RT_EARLY_UNKNOWN) {
        if (session->state == RT_SESSION_LEFT_OUT)
            session->state = RT_SESSION_UNKNOWN;
        return false;
    }
    session->state = RT_SESSION_KNOWN;
    session->known++;
    session->failures += early == RT_EARLY_FAILED;
    session->failed = session->failures > 0;
    return true;
}

static void clear_facts(struct rt_session *session)
{
    session->softest = 0;
    session->graft = session->current_smoker = RT_ANSWER_MISSING;
}

static void fill(const struct rt_cohort *cohort, const struct rt_sessions *sessions,
                 struct rt_session *session)
{
    session->depth_error_mm = NAN;
    session->lz = sessions->lz;
    session->state = RT_SESSION_LEFT_OUT;
    clear_facts(session);
    for (size_t i = session->first; i < session->first + session->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[sessions->implant[i]];
        add_depth(session, implant);
        if (add_fate(cohort, session, implant))
            add_facts(session, implant, sessions->lz);
    }
    if (session->placed_on + RT_EARLY_DAYS > cohort->period.last_day)
        session->state = RT_SESSION_OPEN;
    if (session->state == RT_SESSION_KNOWN)
        return;
    for (size_t i = session->first; i < session->first + session->count; i++)
        add_facts(session, &cohort->implants[sessions->implant[i]], sessions->lz);
}

enum rt_status rt_take_sessions(const struct rt_cohort *cohort, struct rt_sessions *sessions,
                                struct rt_error *error)
{
    struct placing *placings = rt_new_array(cohort->count + 1, sizeof *placings);
    *sessions = (struct rt_sessions){.of = rt_new_array(cohort->count + 1, sizeof *sessions->of),
                                     .implant = rt_new_array(cohort->count + 1, sizeof(size_t))};
    bool complete = placings != NULL && sessions->of != NULL && sessions->implant != NULL;
    if (complete) {
        sessions->implants = take_placings(cohort, placings);
        for (size_t i = 0; i < sessions->implants; i++) {
            sessions->implant[i] = placings[i].implant;
            if (i == 0 || !same_session(&placings[i - 1], &placings[i]))
                sessions->of[sessions->count++] =
                    (struct rt_session){.operator_code = placings[i].operator_code,
                                        .placed_on = placings[i].placed_on,
                                        .patient = placings[i].patient,
                                        .first = i};
            sessions->of[sessions->count - 1].count++;
        }
        sessions->lz = lz_is_more_frequent(cohort, sessions);
        for (size_t i = 0; i < sessions->count; i++)
            fill(cohort, sessions, &sessions->of[i]);
    }
    free(placings);
    return complete ? RT_OK : rt_fail_memory(error);
}

size_t rt_sessions_of(const struct rt_sessions *sessions, int operator_code, size_t *first)
{
    size_t count = 0;
    *first = 0;
    for (size_t i = 0; i < sessions->count; i++) {
        if (sessions->of[i].operator_code != operator_code)
            continue;
        if (count == 0)
            *first = i;
        count++;
    }
    return count;
}

enum rt_status rt_count_session_patients(const struct rt_sessions *sessions, size_t first, size_t count,
                                         bool outside, bool (*chosen)(const struct rt_session *session),
                                         size_t *patients, struct rt_error *error)
{
    size_t most = 0;
    for (size_t i = 0; i < sessions->count; i++)
        most = sessions->of[i].patient >= most ? sessions->of[i].patient + 1 : most;
    bool *seen = rt_new_array(most + 1, sizeof *seen);
    if (seen == NULL)
        return rt_fail_memory(error);
    *patients = 0;
    for (size_t i = 0; i < sessions->count; i++) {
        const struct rt_session *session = &sessions->of[i];
        bool inside = i >= first && i < first + count;
        if (inside == outside || (chosen != NULL && !chosen(session)) || seen[session->patient])
            continue;
        seen[session->patient] = true;
        ++*patients;
    }
    free(seen);
    return RT_OK;
}

void rt_release_sessions(struct rt_sessions *sessions)
{
    free(sessions->of);
    free(sessions->implant);
    *sessions = (struct rt_sessions){.count = 0};
}
