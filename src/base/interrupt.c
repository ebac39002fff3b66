#include "ridgetally/base/interrupt.h"

#include <signal.h>
#include <stddef.h>
#include <time.h>

static const int signals[] = {SIGINT, SIGTERM, SIGHUP};

/* What outlives a function here: a handler has no other way to tell what came, and when. */
static volatile sig_atomic_t noted;
static struct timespec noted_at;

/* Programs that stop others often send their signal to the program and to its group, so that it comes twice: both are
 * one request, and what is half done must still be taken back. The three signals are blocked in here, so only one
 * handler at a time touches the moment. */
static void note(int number)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (noted == 0) {
        noted_at = now;
        noted = number;
        return;
    }
    double waited_seconds =
        (double)(now.tv_sec - noted_at.tv_sec) + (double)(now.tv_nsec - noted_at.tv_nsec) / 1e9;
    if (waited_seconds >= RT_SAME_REQUEST_SECONDS) {
        signal(number, SIG_DFL);
        raise(number); /* delivered when this handler returns and the signal is no longer blocked */
    }
}

void rt_catch_interrupts(void)
{
    struct sigaction before;
    struct sigaction action = {.sa_handler = note, .sa_flags = SA_RESTART};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++)
        sigaddset(&action.sa_mask, signals[i]);
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
