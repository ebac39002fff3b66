/* Signals, in processes of their own: noted once, deadly when repeated later, and the end by the signal that came. */
#include "ridgetally/base/interrupt.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

/* How a process ended in which `body` ran. */
static int status_of(void (*body)(void))
{
    int status = 0;
    pid_t child = fork();
    if (child == 0) {
        for (int number = 1; number < 16; number++) /* whatever the caller of the tests ignored */
            signal(number, SIG_DFL);
        body();
        _exit(0);
    }
    assert_true(child > 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    return status;
}

static void noted_once(void)
{
    struct rt_error error = {.status = RT_OK};
    rt_catch_interrupts();
    if (rt_interrupted() != 0 || rt_check_interrupt(&error) != RT_OK)
        _exit(1);
    raise(SIGTERM);
    if (rt_interrupted() != SIGTERM || rt_check_interrupt(&error) != RT_INTERRUPTED)
        _exit(2);
    if (strcmp(error.message, "interrupted by a signal") != 0 || error.remedy[0] == '\0')
        _exit(3);
    _exit(rt_exit_code(error.status) == 130 ? 42 : 4);
}

static void one_request(void)
{
    rt_catch_interrupts();
    raise(SIGTERM);
    raise(SIGTERM);
    raise(SIGINT);
    _exit(rt_interrupted() == SIGTERM ? 42 : 1);
}

static void asked_again(void)
{
    struct timespec wait = {.tv_sec = (time_t)RT_SAME_REQUEST_SECONDS, .tv_nsec = 100000000};
    rt_catch_interrupts();
    raise(SIGTERM);
    nanosleep(&wait, NULL);
    raise(SIGINT);
}

static void ended_by_it(void)
{
    rt_catch_interrupts();
    rt_end_by_interrupt(); /* nothing came yet */
    raise(SIGHUP);
    rt_end_by_interrupt();
}

static void ignored_stays_ignored(void)
{
    signal(SIGHUP, SIG_IGN);
    rt_catch_interrupts();
    raise(SIGHUP);
    _exit(rt_interrupted() == 0 ? 42 : 1);
}

static void signals_are_noted(void **state)
{
    (void)state;
    int status = status_of(noted_once);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 42);
    status = status_of(ignored_stays_ignored);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 42);
    status = status_of(one_request);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 42);
}

static void signals_end_the_program(void **state)
{
    (void)state;
    int status = status_of(asked_again);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGINT);
    status = status_of(ended_by_it);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGHUP);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(signals_are_noted),
                                       cmocka_unit_test(signals_end_the_program)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
