/*
 * Published sets of criteria for a successful implant, and whether an implant meets one as far as its records can say.
 *
 * Each set is a list of requirements, some with a limit; the wording of the sources is partly from memory (see
 * figure/catalogue.h, section success). What a source asks for that the records do not hold (nerve injury, the
 * acceptable crown) is not judged; an implant left unused does not meet the set that asks for use.
 *
 *   Albrektsson 1986             Albrektsson, Zarb, Worthington, Eriksson 1986, Int J Oral Maxillofac Implants 1:11-25
 *   Smith and Zarb 1989          Smith, Zarb 1989, J Prosthet Dent 62:567-572
 *   Albrektsson and Isidor 1994  Consensus report of session IV, 1st European Workshop on Periodontology
 *   Roos 1997                    Roos et al. 1997, Int J Oral Maxillofac Implants 12:504-514
 *   Pisa consensus 2007          its quality of health scale, group I (success)
 *   World Workshop 2017          Berglundh et al. 2018, J Clin Periodontol 45 Suppl 20:S286-S291, health
 */
#ifndef RIDGETALLY_AUDIT_CRITERIA_H
#define RIDGETALLY_AUDIT_CRITERIA_H

#include "ridgetally/audit/cohort.h"

#include <stdbool.h>

/* What a set may require. Losses are of the worse site, the yearly rate is of the mean of both sites. */
enum rt_requirement {
    RT_IMMOBILE,
    RT_NO_RADIOLUCENCY,
    RT_NO_PAIN,
    RT_NO_SUPPURATION,    /* at the time judged */
    RT_NEVER_SUPPURATION, /* nor at any visit before */
    RT_NO_BLEEDING,
    RT_PROBING_STEADY, /* not more than the limit deeper than at the first probing after loading */
    RT_IN_USE,         /* not recorded as unused */
    RT_LOSS_FIRST_YEAR, /* from the film at loading to the film one year later, or as far as the first year has gone */
    RT_LOSS_YEARLY, /* after the first year of loading; not asked before 18 months of loading */
    RT_LOSS_SINCE_LOADING,
    RT_LOSS_SINCE_PLACEMENT
};
enum { RT_REQUIREMENTS = 12, RT_CRITERIA = 6 };

enum rt_judgement { RT_NOT_MET = 0, RT_MET = 1, RT_CANNOT_JUDGE = 2 };

/* One requirement of a set; limit_mm is NaN for those that are a yes or no. */
struct rt_demand {
    enum rt_requirement requirement;
    double limit_mm;
    bool limit_allowed; /* a loss of exactly the limit meets it */
};

struct rt_criteria {
    const char *name;
    const struct rt_demand *demands;
    int count;
};

/* The sets in the order of their years, RT_CRITERIA of them. */
const struct rt_criteria *rt_criteria_sets(void);

/* A few words for the level column: `no mobility`, `loss in the first year`, ... */
const char *rt_requirement_name(enum rt_requirement requirement);

/* What is known of one implant at a time. */
struct rt_success_facts {
    const char *
        unknown; /* why nothing can be judged: contradictory records, removed by choice or died, not seen; NULL */
    bool failed;                             /* removed or exfoliated by then: meets no set */
    enum rt_answer finding[RT_REQUIREMENTS]; /* is the requirement met; of those without a limit */
    double amount_mm[RT_REQUIREMENTS];       /* loss, deepening, or yearly loss; NaN where not known */
    bool loaded;                             /* on a recorded day, by then */
    bool rate_asked;                         /* the second year of loading has been reached */
    double rate_detectable_mm;               /* the smallest yearly rate that its films could show */
};

/* The facts of an implant at its visits from first_day to last_day. error_mm: the error of one reading of the two-site mean
 * (NaN = not known). A finding is `yes` where any of the visits says so, `no` where at least one says no; the film is
 * the one nearest to wanted_day. */
struct rt_success_facts rt_success_facts(const struct rt_cohort *cohort,
                                         const struct rt_audit_implant *implant, int first_day, int last_day,
                                         double wanted_day, double error_mm);

/* Is one requirement met? *reason says why it cannot be judged. A yearly rate whose detectable size exceeds 0.2 mm neither passes nor fails. */
enum rt_judgement rt_judge_demand(const struct rt_success_facts *facts, const struct rt_demand *demand,
                                  const char **reason);

/* Not met where one requirement is not, met where all are, else not to be judged, with the first reason. */
enum rt_judgement rt_judge(const struct rt_success_facts *facts, const struct rt_criteria *set,
                           const char **reason);

#endif
