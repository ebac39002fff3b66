#include "ridgetally/cli/verb.h"

#include "ridgetally/cli/audit.h"
#include "ridgetally/cli/deck.h"
#include "ridgetally/cli/demo.h"
#include "ridgetally/cli/due.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/meeting.h"
#include "ridgetally/cli/quarter.h"
#include "ridgetally/cli/reckon.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/cli/rule.h"
#include "ridgetally/cli/trend.h"

static const struct rt_verb verbs[] = {
    {"new", "make an empty store, and sheets to type into", rt_new_help, rt_new_verb},
    {"quarter", "the usual quarterly run: load, doubts, audit", rt_quarter_help, rt_quarter_verb},
    {"load", "load records from CSV files", rt_load_help, rt_load_verb},
    {"match", "draft a map for a sheet of your own", rt_match_help, rt_match_verb},
    {"doubts", "what is missing, implausible or contradictory in the records", rt_doubts_help,
     rt_doubts_verb},
    {"undo", "take a loaded file back out", rt_undo_help, rt_undo_verb},
    {"forget", "erase a patient", rt_forget_help, rt_forget_verb},
    {"audit", "write the practice audit of a period", RT_AUDIT_HELP, rt_audit_verb},
    {"trend", "write one operator over time", RT_TREND_HELP, rt_trend_verb},
    {"due", "recalls and cases to look at", RT_DUE_HELP, rt_due_verb},
    {"figures", "the figure rows as CSV or JSON", RT_FIGURES_HELP, rt_figures_verb},
    {"deck", "slides for a study club, with small groups kept back", RT_DECK_HELP, rt_deck_verb},
    {"yardstick", "list and set the targets of the practice", rt_yardstick_help, rt_yardstick_verb},
    {"note", "record a decision on an audit, and what came of it", rt_note_help, rt_note_verb},
    {"rule", "list the house rules put on trial, and edit them", rt_rule_help, rt_rule_verb},
    {"reckon", "any statistic of the engine on any CSV", NULL, rt_reckon_verb},
    {"setting", "show and change the settings of the practice", rt_setting_help, rt_setting_verb},
    {"verify", "tell a damaged store from a good one", rt_verify_help, rt_verify_verb},
    {"backup", "write a consistent copy of the store", rt_backup_help, rt_backup_verb},
    {"demo", "load the invented practice and write all outputs", RT_DEMO_HELP, rt_demo_verb},
    {.name = NULL},
};

const struct rt_verb *rt_verbs(size_t *count)
{
    *count = sizeof verbs / sizeof verbs[0] - 1; /* the last row only ends the table */
    return verbs;
}
