/*
 * bench-measure RUNS BEFORE COMMAND
 *
 * Runs COMMAND (sh -c) RUNS times, each after BEFORE (not measured), and prints one line: the medians of the seconds on the
 * clock and of the processor, and the largest memory in KiB that one of its processes held. What they write goes nowhere. Exit
 * codes 0 and 1 are fine (1: done, and rows were refused).
 */
#include "ridgetally/base/number.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { MOST_RUNS = 99 };

struct cost {
    double clock_s[MOST_RUNS], processor_s[MOST_RUNS];
    long peak_kib;
};

static double seconds(struct timeval time)
{
    return (double)time.tv_sec + (double)time.tv_usec * 1e-6;
}

static pid_t start(const char *command)
{
    pid_t child = fork();
    if (child != 0)
        return child;
    int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (nowhere >= 0)
        dup2(nowhere, STDOUT_FILENO);
    execl("/bin/sh", "sh", "-c", command, (char *)NULL);
    _exit(127);
}

/* The children of a child count too: rusage of a process that was waited for holds those it waited for. */
static bool run(const char *command, struct cost *cost, long at)
{
    struct timespec before, after;
    struct rusage usage;
    int result = 0;
    clock_gettime(CLOCK_MONOTONIC, &before);
    pid_t child = start(command);
    if (child < 0 || wait4(child, &result, 0, &usage) != child || !WIFEXITED(result) ||
        WEXITSTATUS(result) > 1) {
        fprintf(stderr, "bench-measure: failed: %s\n", command);
        return false;
    }
    clock_gettime(CLOCK_MONOTONIC, &after);
    if (cost != NULL) {
        cost->clock_s[at] =
            (double)(after.tv_sec - before.tv_sec) + (double)(after.tv_nsec - before.tv_nsec) * 1e-9;
        cost->processor_s[at] = seconds(usage.ru_utime) + seconds(usage.ru_stime);
        cost->peak_kib = usage.ru_maxrss > cost->peak_kib ? usage.ru_maxrss : cost->peak_kib;
    }
    return true;
}

static int by_size(const void *left, const void *right)
{
    double a = *(const double *)left;
    double b = *(const double *)right;
    return (a > b) - (a < b);
}

static double median(double *values, long count)
{
    qsort(values, (size_t)count, sizeof *values, by_size);
    return (values[(count - 1) / 2] + values[count / 2]) / 2;
}

int main(int argc, char **argv)
{
    long runs = 0;
    struct cost cost = {.peak_kib = 0};
    if (argc != 4 || !rt_parse_integer(argv[1], &runs) || runs < 1 || runs > MOST_RUNS) {
        fprintf(stderr, "usage: bench-measure RUNS BEFORE COMMAND\n");
        return 2;
    }
    for (long i = 0; i < runs; i++)
        if ((argv[2][0] != '\0' && !run(argv[2], NULL, i)) || !run(argv[3], &cost, i))
            return 1;
    printf("%.3f %.3f %ld\n", median(cost.clock_s, runs), median(cost.processor_s, runs), cost.peak_kib);
    return 0;
}
