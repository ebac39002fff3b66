#include "ridgetally/audit/judged.h"

enum rt_judged rt_judge_yardstick(const struct rt_target *target, const struct rt_figure *row)
{
    if (row == NULL || row->state != RT_FIGURE_OK)
        return RT_CANNOT_TELL;
    /* a limit that is not there compares false */
    if (target->at_least ? row->lower >= target->value : row->upper <= target->value)
        return RT_MET;
    if (target->at_least ? row->upper < target->value : row->lower > target->value)
        return RT_NOT_MET;
    return RT_CANNOT_TELL;
}

enum rt_judged rt_agreed(enum rt_judged first, enum rt_judged second)
{
    return first == second ? first : RT_CANNOT_TELL;
}
