#include "ridgetally/audit/criteria.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/yearly_rate.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"

#include <math.h>

#define YES_OR_NO NAN, false

static const struct rt_demand albrektsson_1986[] = {{RT_IMMOBILE, YES_OR_NO},
                                                    {RT_NO_RADIOLUCENCY, YES_OR_NO},
                                                    {RT_NO_PAIN, YES_OR_NO},
                                                    {RT_NO_SUPPURATION, YES_OR_NO},
                                                    {RT_LOSS_YEARLY, 0.2, false}};
static const struct rt_demand smith_1989[] = {{RT_IMMOBILE, YES_OR_NO}, {RT_NO_RADIOLUCENCY, YES_OR_NO},
                                              {RT_NO_PAIN, YES_OR_NO},  {RT_NO_SUPPURATION, YES_OR_NO},
                                              {RT_IN_USE, YES_OR_NO},   {RT_LOSS_YEARLY, 0.2, false}};
static const struct rt_demand isidor_1994[] = {{RT_LOSS_FIRST_YEAR, 1.5, false},
                                               {RT_LOSS_YEARLY, 0.2, false}};
static const struct rt_demand roos_1997[] = {{RT_IMMOBILE, YES_OR_NO},        {RT_NO_RADIOLUCENCY, YES_OR_NO},
                                             {RT_NO_PAIN, YES_OR_NO},         {RT_NO_SUPPURATION, YES_OR_NO},
                                             {RT_LOSS_FIRST_YEAR, 1.0, true}, {RT_LOSS_YEARLY, 0.2, true}};
static const struct rt_demand pisa_2007[] = {{RT_IMMOBILE, YES_OR_NO},
                                             {RT_NO_PAIN, YES_OR_NO},
                                             {RT_NEVER_SUPPURATION, YES_OR_NO},
                                             {RT_LOSS_SINCE_PLACEMENT, 2.0, false}};
static const struct rt_demand workshop_2017[] = {{RT_NO_SUPPURATION, YES_OR_NO},
                                                 {RT_NO_BLEEDING, YES_OR_NO},
                                                 {RT_PROBING_STEADY, 1.0, true},
                                                 {RT_LOSS_SINCE_LOADING, 2.0, false}};

#define SET(name, demands)                                                                                   \
    {                                                                                                        \
        name, demands, sizeof(demands) / sizeof((demands)[0])                                                \
    }

const struct rt_criteria *rt_criteria_sets(void)
{
    static const struct rt_criteria sets[RT_CRITERIA] = {
        SET("Albrektsson 1986", albrektsson_1986),       SET("Smith and Zarb 1989", smith_1989),
        SET("Albrektsson and Isidor 1994", isidor_1994), SET("Roos 1997", roos_1997),
        SET("Pisa consensus 2007", pisa_2007),           SET("World Workshop 2017", workshop_2017)};
    return sets;
}

const char *rt_requirement_name(enum rt_requirement requirement)
{
    static const char *const names[RT_REQUIREMENTS] = {
        "no mobility",        "no radiolucency",     "no pain", "no suppuration",         "never suppuration",
        "no bleeding",        "probing steady",      "in use",  "loss in the first year", "loss a year after",
        "loss since loading", "loss since placement"};
    return names[requirement];
}

/* --- facts ----------------------------------------------------------------------------------------------- */

/* One finding over the visits: yes where any says yes, no where one at least says no. */
static enum rt_answer over_visits(enum rt_answer so_far, enum rt_answer found)
{
    if (so_far == RT_ANSWER_YES || found == RT_ANSWER_MISSING)
        return so_far;
    return found;
}

/* A requirement asks for the absence of what was found. */
static enum rt_answer absent(enum rt_answer found)
{
    return found == RT_ANSWER_MISSING ? found : found == RT_ANSWER_YES ? RT_ANSWER_NO : RT_ANSWER_YES;
}

static void take_findings(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                          int first_day, int last_day, struct rt_success_facts *facts)
{
    struct rt_finding now = {.mobile = RT_ANSWER_MISSING,
                             .radiolucency = RT_ANSWER_MISSING,
                             .pain = RT_ANSWER_MISSING,
                             .suppuration = RT_ANSWER_MISSING,
                             .bleeding = RT_ANSWER_MISSING};
    const struct rt_finding *findings = rt_findings_of(cohort, implant);
    bool ever = false;
    double first_probing = NAN, deepest = NAN;
    int probed_on = RT_NO_DATE;
    for (size_t i = 0; i < implant->finding_count && findings[i].seen_on <= last_day; i++) {
        const struct rt_finding *one = &findings[i];
        const bool loaded = implant->loaded_on != RT_NO_DATE && one->seen_on >= implant->loaded_on;
        ever = ever || one->suppuration == RT_ANSWER_YES;
        if (loaded && !isnan(one->probing_mm) && probed_on == RT_NO_DATE) {
            first_probing = one->probing_mm;
            probed_on = one->seen_on;
        }
        if (one->seen_on < first_day)
            continue;
        now.mobile = over_visits(now.mobile, one->mobile);
        now.radiolucency = over_visits(now.radiolucency, one->radiolucency);
        now.pain = over_visits(now.pain, one->pain);
        now.suppuration = over_visits(now.suppuration, one->suppuration);
        now.bleeding = over_visits(now.bleeding, one->bleeding);
        if (probed_on != RT_NO_DATE && one->seen_on > probed_on && !isnan(one->probing_mm))
            deepest = isnan(deepest) ? one->probing_mm : fmax(deepest, one->probing_mm);
    }
    facts->finding[RT_IMMOBILE] = absent(now.mobile);
    facts->finding[RT_NO_RADIOLUCENCY] = absent(now.radiolucency);
    facts->finding[RT_NO_PAIN] = absent(now.pain);
    facts->finding[RT_NO_SUPPURATION] = absent(now.suppuration);
    facts->finding[RT_NEVER_SUPPURATION] = ever ? RT_ANSWER_NO : absent(now.suppuration);
    facts->finding[RT_NO_BLEEDING] = absent(now.bleeding);
    facts->finding[RT_IN_USE] =
        implant->unused_on != RT_NO_DATE && implant->unused_on <= last_day ? RT_ANSWER_NO : RT_ANSWER_YES;
    facts->amount_mm[RT_PROBING_STEADY] = deepest - first_probing;
}

/* The film with both sites nearest to a day, then the earlier. */
static const struct rt_film *film_near(const struct rt_film *films, size_t count, int first_day, int last_day,
                                       double wanted_day)
{
    const struct rt_film *nearest = NULL;
    for (size_t i = 0; i < count; i++) {
        if (films[i].seen_on < first_day || films[i].seen_on > last_day ||
            isnan(films[i].mesial_mm + films[i].distal_mm))
            continue;
        if (nearest == NULL || fabs(films[i].seen_on - wanted_day) < fabs(nearest->seen_on - wanted_day))
            nearest = &films[i];
    }
    return nearest;
}

static int least(int a, int b)
{
    return a < b ? a : b;
}

static void take_losses(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int first_day,
                        int last_day, double wanted_day, double error_mm, struct rt_success_facts *facts)
{
    const struct rt_film *films = rt_films_of(cohort, implant);
    const size_t count = implant->film_count;
    const struct rt_film *film = film_near(films, count, first_day, last_day, wanted_day);
    const struct rt_film *placement =
        rt_baseline_film(films, count, RT_BASELINE_PLACEMENT, implant->placed_on);
    facts->amount_mm[RT_LOSS_SINCE_PLACEMENT] = -rt_crest_change(placement, film).worse;
    const int loaded_on = implant->loaded_on;
    if (loaded_on == RT_NO_DATE || loaded_on > last_day)
        return;
    const struct rt_film *loading = rt_baseline_film(films, count, RT_BASELINE_LOADING, loaded_on);
    const bool after_loading = film != NULL && loading != NULL && film->seen_on > loading->seen_on;
    facts->amount_mm[RT_LOSS_SINCE_LOADING] = after_loading ? -rt_crest_change(loading, film).worse : NAN;
    const struct rt_window *year = &rt_windows()[RT_YEAR_WINDOW];
    const int opens = rt_window_first_day(year, loaded_on);
    const struct rt_film *first_year =
        film_near(films, count, opens, least(last_day, rt_window_last_day(year, loaded_on)),
                  loaded_on + year->months * RT_MONTH_DAYS);
    if (first_year == NULL && after_loading && film->seen_on < opens)
        first_year = film; /* as far as the first year has gone */
    facts->amount_mm[RT_LOSS_FIRST_YEAR] = -rt_crest_change(loading, first_year).worse;
    const struct rt_yearly_rate rate = rt_yearly_rate(films, count, opens, last_day, error_mm);
    facts->amount_mm[RT_LOSS_YEARLY] = -rate.change_mm;
    facts->rate_detectable_mm = rate.detectable_mm;
}

/* The last day from first_day to last_day on which the implant was seen, RT_NO_DATE when it was not. */
static int seen_between(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int first_day,
                        int last_day)
{
    int seen = RT_NO_DATE;
    const struct rt_finding *findings = rt_findings_of(cohort, implant);
    const struct rt_film *films = rt_films_of(cohort, implant);
    for (size_t i = 0; i < implant->finding_count; i++)
        if (findings[i].seen_on >= first_day && findings[i].seen_on <= last_day)
            seen = findings[i].seen_on;
    for (size_t i = 0; i < implant->film_count; i++)
        if (films[i].seen_on >= first_day && films[i].seen_on <= last_day &&
            (seen == RT_NO_DATE || films[i].seen_on > seen))
            seen = films[i].seen_on;
    return seen;
}

struct rt_success_facts rt_success_facts(const struct rt_cohort *cohort,
                                         const struct rt_audit_implant *implant, int first_day, int last_day,
                                         double wanted_day, double error_mm)
{
    struct rt_success_facts facts = {.unknown = NULL, .rate_detectable_mm = NAN};
    const enum rt_fate fate = rt_fate_of(cohort, implant);
    for (int i = 0; i < RT_REQUIREMENTS; i++) {
        facts.finding[i] = RT_ANSWER_MISSING;
        facts.amount_mm[i] = NAN;
    }
    if ((implant->blocked & (RT_BLOCKS_CREST | RT_BLOCKS_SURVIVAL)) != 0) {
        facts.unknown = "records contradict each other";
        return facts;
    }
    if (fate == RT_REMOVED && implant->removed_on <= last_day) {
        facts.failed = true;
        return facts;
    }
    const int seen_on = seen_between(cohort, implant, first_day, last_day);
    if (seen_on == RT_NO_DATE) {
        const bool gone = (fate == RT_ELECTIVE && implant->elective_on <= last_day) ||
                          (fate == RT_DIED && implant->died_on <= last_day);
        facts.unknown = gone ? "removed by choice or died" : "not examined then";
        return facts;
    }
    facts.loaded = implant->loaded_on != RT_NO_DATE && implant->loaded_on <= last_day;
    facts.rate_asked =
        facts.loaded && seen_on >= rt_window_first_day(&rt_windows()[RT_YEAR_WINDOW + 1], implant->loaded_on);
    take_findings(cohort, implant, first_day, last_day, &facts);
    take_losses(cohort, implant, first_day, last_day, wanted_day, error_mm, &facts);
    return facts;
}

/* --- judging --------------------------------------------------------------------------------------------- */

static const char *missing_words(enum rt_requirement requirement)
{
    static const char *const words[RT_REQUIREMENTS] = {"mobility not recorded",
                                                       "radiolucency not recorded",
                                                       "pain not recorded",
                                                       "suppuration not recorded",
                                                       "suppuration not recorded",
                                                       "bleeding not recorded",
                                                       "no two probings after loading",
                                                       "",
                                                       "no film at loading and after a year",
                                                       "no two films after the first year",
                                                       "no film at loading and since",
                                                       "no film at placement and since"};
    return words[requirement];
}

static enum rt_judgement judge_rate(const struct rt_success_facts *facts, const struct rt_demand *demand,
                                    const char **reason)
{
    const double loss = facts->amount_mm[RT_LOSS_YEARLY];
    if (!facts->loaded) {
        *reason = "not loaded yet, or no loading date";
        return RT_CANNOT_JUDGE;
    }
    if (!facts->rate_asked)
        return RT_MET; /* the second year has not come yet */
    if (isnan(loss)) {
        *reason = missing_words(RT_LOSS_YEARLY);
        return RT_CANNOT_JUDGE;
    }
    if (isnan(facts->rate_detectable_mm) || facts->rate_detectable_mm > demand->limit_mm) {
        *reason = "yearly rate within reading error";
        return RT_CANNOT_JUDGE;
    }
    return loss < demand->limit_mm || (demand->limit_allowed && loss == demand->limit_mm) ? RT_MET
                                                                                          : RT_NOT_MET;
}

enum rt_judgement rt_judge_demand(const struct rt_success_facts *facts, const struct rt_demand *demand,
                                  const char **reason)
{
    const double amount = facts->amount_mm[demand->requirement];
    if (demand->requirement == RT_LOSS_YEARLY)
        return judge_rate(facts, demand, reason);
    if (isnan(demand->limit_mm) && facts->finding[demand->requirement] != RT_ANSWER_MISSING)
        return facts->finding[demand->requirement] == RT_ANSWER_YES ? RT_MET : RT_NOT_MET;
    if (isnan(demand->limit_mm) || isnan(amount)) {
        *reason = missing_words(demand->requirement);
        return RT_CANNOT_JUDGE;
    }
    const long over = rt_hundredths(amount) - rt_hundredths(demand->limit_mm);
    return over < 0 || (demand->limit_allowed && over == 0) ? RT_MET : RT_NOT_MET;
}

enum rt_judgement rt_judge(const struct rt_success_facts *facts, const struct rt_criteria *set,
                           const char **reason)
{
    enum rt_judgement judgement = RT_MET;
    if (facts->unknown != NULL) {
        *reason = facts->unknown;
        return RT_CANNOT_JUDGE;
    }
    if (facts->failed)
        return RT_NOT_MET;
    for (int i = 0; i < set->count; i++) {
        const char *why = NULL;
        const enum rt_judgement one = rt_judge_demand(facts, &set->demands[i], &why);
        if (one == RT_NOT_MET)
            return RT_NOT_MET;
        if (one == RT_CANNOT_JUDGE && judgement == RT_MET) {
            judgement = RT_CANNOT_JUDGE;
            *reason = why;
        }
    }
    return judgement;
}
