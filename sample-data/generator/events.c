/* Events: failures, removals, complications, remade crowns, deaths, moves. */
#include "steps.h"

#include "ridgetally/base/date.h"

static const char *failure_cause(struct rt_sample_random *random, const struct rt_sample_implant *implant)
{
    static const char *const early[] = {"not-integrated", "infection", "pain"};
    static const double early_weights[] = {75, 18, 7};
    static const char *const late[] = {"bone-loss", "mobile", "implant-fracture"};
    static const double late_weights[] = {60, 30, 10};
    return implant->ended_on - implant->placed_on <= 180 ? early[rt_sample_choose(random, early_weights, 3)]
                                                         : late[rt_sample_choose(random, late_weights, 3)];
}

static enum rt_status add_end(struct rt_sample_random *random, struct rt_sample_practice *practice,
                              size_t index, struct rt_error *error)
{
    const struct rt_sample_implant *implant = &practice->implants[index];
    struct rt_sample_event event = {.patient = implant->patient, .implant = index};
    event.happened_on = implant->ended_on;
    if (implant->fate == RT_FAILED) {
        event.event = "removed";
        event.cause = failure_cause(random, implant);
        return rt_sample_add_event(practice, &event, error);
    }
    if (implant->fate == RT_REMOVED_ELECTIVE) {
        event.event = "elective";
        event.cause = "change-of-treatment";
        return rt_sample_add_event(practice, &event, error);
    }
    return RT_OK;
}

/* Trouble with an implant or its crown at a constant rate while it carries one. */
static enum rt_status add_trouble(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                  size_t index, const char *name, double rate, const char *const *causes,
                                  size_t cause_count, struct rt_error *error)
{
    const struct rt_sample_implant *implant = &practice->implants[index];
    const struct rt_sample_patient *patient = &practice->patients[implant->patient];
    if (implant->loaded_on == RT_NO_DATE)
        return RT_OK;
    int end = rt_sample_last_day(&practice->settings, patient);
    if (implant->ended_on != RT_NO_DATE && implant->ended_on <= end)
        end = implant->ended_on - 1;
    int day = implant->loaded_on;
    enum rt_status status = RT_OK;
    while (status == RT_OK) {
        double years = 0.05 + rt_sample_waiting_time(random, rate);
        if (years * 365.25 >= end - day)
            break;
        day = day + (int)(years * 365.25);
        struct rt_sample_event event = {.patient = implant->patient, .implant = index, .event = name};
        event.happened_on = rt_sample_working_day(day) > end ? day : rt_sample_working_day(day);
        event.cause = causes[rt_sample_integer(random, 0, (int)cause_count - 1)];
        status = rt_sample_add_event(practice, &event, error);
    }
    return status;
}

static enum rt_status add_implant_events(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                         size_t index, struct rt_error *error)
{
    static const char *const troubles[] = {"screw-loose", "crown-chipped", "mucositis", "food-trap"};
    static const char *const remakes[] = {"crown-fractured", "open-contact"};
    enum rt_status status = add_end(random, practice, index, error);
    if (status == RT_OK)
        status = add_trouble(random, practice, index, "complication", 0.05, troubles, 4, error);
    if (status == RT_OK)
        status = add_trouble(random, practice, index, "remade", 0.012, remakes, 2, error);
    const struct rt_sample_implant *implant = &practice->implants[index];
    const struct rt_sample_patient *patient = &practice->patients[implant->patient];
    int day = rt_sample_working_day(implant->placed_on + 230);
    if (status == RT_OK && implant->never_loaded && implant->ended_on == RT_NO_DATE &&
        day <= rt_sample_last_day(&practice->settings, patient)) {
        struct rt_sample_event event = {
            .patient = implant->patient, .implant = index, .happened_on = day, .event = "unused"};
        event.cause = "left-under-the-gum";
        status = rt_sample_add_event(practice, &event, error);
    }
    return status;
}

enum rt_status rt_sample_add_events(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t patient, size_t first, size_t last, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = first; i < last && status == RT_OK; i++)
        status = add_implant_events(random, practice, i, error);
    const struct rt_sample_patient *who = &practice->patients[patient];
    int end = rt_sample_last_day(&practice->settings, who);
    struct rt_sample_event event = {.patient = patient, .implant = RT_WHOLE_PATIENT, .cause = ""};
    if (status == RT_OK && who->died_on != RT_NO_DATE && who->death_reported &&
        (who->moved_on == RT_NO_DATE || who->died_on < who->moved_on)) {
        event.happened_on = who->died_on;
        event.event = "died";
        status = rt_sample_add_event(practice, &event, error);
    } else if (status == RT_OK && who->moved_on == end) {
        event.happened_on = who->moved_on;
        event.event = "moved_away";
        status = rt_sample_add_event(practice, &event, error);
    }
    return status;
}
