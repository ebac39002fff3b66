#include "ridgetally/figure/meeting.h"

#include "ridgetally/base/date.h"

#include <stdlib.h>
#include <string.h>

const struct rt_yardstick *rt_find_yardstick(const struct rt_meeting *meeting, const char *name)
{
    for (size_t i = 0; i < meeting->yardstick_count; i++)
        if (strcmp(meeting->yardsticks[i].name, name) == 0)
            return &meeting->yardsticks[i];
    return NULL;
}

enum rt_note_state rt_note_state(const struct rt_note *note, int last_day)
{
    int due_on = note->re_audit_on != RT_NO_DATE ? note->re_audit_on : note->last_day + 1;
    if (note->answered_on != RT_NO_DATE && note->answered_on <= last_day)
        return RT_NOTE_ANSWERED;
    return due_on <= last_day ? RT_NOTE_DUE : RT_NOTE_OPEN;
}

bool rt_note_is_told(const struct rt_note *note, int first_day, int last_day)
{
    enum rt_note_state state = rt_note_state(note, last_day);
    return state == RT_NOTE_DUE || (state == RT_NOTE_ANSWERED && note->answered_on >= first_day);
}

const char *rt_note_state_name(enum rt_note_state state)
{
    switch (state) {
    case RT_NOTE_OPEN:
        return "open";
    case RT_NOTE_DUE:
        return "due";
    case RT_NOTE_ANSWERED:
        return "answered";
    }
    return "";
}

void rt_release_meeting(struct rt_meeting *meeting)
{
    free(meeting->yardsticks);
    free(meeting->notes);
    rt_arena_release(&meeting->text);
    *meeting = (struct rt_meeting){.yardstick_count = 0};
}
