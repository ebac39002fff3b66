#include "ridgetally/base/interrupt.h"

#include <signal.h>
#include <stddef.h>

static const int signals[] = {SIGINT, SIGTERM, SIGHUP};

/* The one variable that outlives a function: a handler has no other way to tell what came. */
static volatile sig_atomic_t noted;

static void note(int number)
{
    noted = number;
}

void rt_catch_interrupts(void)
{
    struct sigaction before;
    struct sigaction action = {.sa_handler = note, .sa_flags = (int)(SA_RESTART | SA_RESETHAND)};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++)
        if (sigaction(signals[i], NULL, &before) == 0 && before.sa_handler == SIG_DFL)
            sigaction(signals[i], &action, NULL);
}

int rt_interrupted(void)
{
    return noted;
}

enum rt_status rt_fail_interrupted(struct rt_error *error)
{
    rt_fail(error, RT_INTERRUPTED, "interrupted by a signal");
    rt_error_remedy(error, "what was under way was taken back; run it again");
    return RT_INTERRUPTED;
}

enum rt_status rt_check_interrupt(struct rt_error *error)
{
    return noted == 0 ? RT_OK : rt_fail_interrupted(error);
}

void rt_end_by_interrupt(void)
{
    if (noted == 0)
        return;
    signal(noted, SIG_DFL);
    raise(noted);
}
