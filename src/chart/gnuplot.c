#include "gnuplot.h"

#include "gnuplot_script.h"

#include "ridgetally/base/memory.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdbool.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum {
    MOST_PROCESSES = 8,
    GIVEN_AHEAD = 2, /* a process has the next drawing before it has finished one */
    SLOWEST_MS = 120 * 1000,
    LARGEST_SVG_BYTES = 64 * 1024 * 1024,
    CHUNK_BYTES = 65536
};

/* One gnuplot and its pipes. The end of `to` that it reads from stays open here too: writing to a process that is gone then
 * raises no signal, and that it is gone is told by `from`. */
struct process {
    pid_t id;   /* 0: could not be started */
    int reason; /* why */
    int to, to_its_end, from;
    int words; /* what it says of errors: a file in memory, which it need not wait for anyone to read */
    struct rt_text script;
    size_t sent; /* bytes of the script */
    size_t given[GIVEN_AHEAD], given_count;
    struct rt_text svg; /* what came back and was not yet taken */
};

struct rt_gnuplot {
    size_t count;
    struct process processes[MOST_PROCESSES];
};

static int spawn(struct process *process, int its_input, int its_output)
{
    posix_spawn_file_actions_t actions;
    int reason = posix_spawn_file_actions_init(&actions);
    if (reason != 0)
        return reason;
    posix_spawn_file_actions_adddup2(&actions, its_input, 0);
    posix_spawn_file_actions_adddup2(&actions, its_output, 1);
    posix_spawn_file_actions_adddup2(&actions, process->words, 2);
    char name[] = "gnuplot";
    char plain[] = "-d";          /* no settings of the user's own */
    char script[] = "/dev/stdin"; /* as a file: without a name it would be read character by character */
    char *const arguments[] = {name, plain, script, NULL};
    reason = posix_spawnp(&process->id, name, &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    if (reason != 0)
        process->id = 0;
    return reason;
}

static void start(struct process *process)
{
    int input[2] = {-1, -1}, output[2] = {-1, -1};
    process->words = memfd_create("gnuplot-words", MFD_CLOEXEC);
    if (process->words < 0 || pipe2(input, O_CLOEXEC) != 0 || pipe2(output, O_CLOEXEC) != 0 ||
        fcntl(input[1], F_SETFL, O_NONBLOCK) != 0)
        process->reason = errno;
    else
        process->reason = spawn(process, input[0], output[1]);
    process->to = input[1];
    process->to_its_end = input[0];
    process->from = output[0];
    if (output[1] >= 0)
        close(output[1]);
    gnuplot_add_settings(&process->script);
}

struct rt_gnuplot *rt_gnuplot_start(void)
{
    struct rt_gnuplot *gnuplot = rt_new_array(1, sizeof *gnuplot);
    if (gnuplot == NULL)
        return NULL;
    const long cores = sysconf(_SC_NPROCESSORS_ONLN);
    gnuplot->count = cores < 1 ? 1 : cores > MOST_PROCESSES ? MOST_PROCESSES : (size_t)cores;
    for (size_t p = 0; p < gnuplot->count; p++)
        start(&gnuplot->processes[p]);
    return gnuplot;
}

/* Wait for its end; its result. */
static int end(struct process *process)
{
    int result = 0;
    while (process->id != 0 && waitpid(process->id, &result, 0) < 0 && errno == EINTR)
        ;
    process->id = 0;
    return result;
}

/* Whatever was drawn was taken, or is of no use, so that no process need tidy up, and none can keep anyone waiting. One that has
 * ended by itself keeps its result. */
static void stop(const struct rt_gnuplot *gnuplot)
{
    for (size_t p = 0; p < gnuplot->count; p++)
        if (gnuplot->processes[p].id != 0)
            kill(gnuplot->processes[p].id, SIGKILL);
}

static void close_open(int descriptor)
{
    if (descriptor >= 0)
        close(descriptor);
}

void rt_gnuplot_end(struct rt_gnuplot *gnuplot)
{
    if (gnuplot != NULL)
        stop(gnuplot);
    for (size_t p = 0; gnuplot != NULL && p < gnuplot->count; p++) {
        struct process *process = &gnuplot->processes[p];
        end(process);
        close_open(process->to);
        close_open(process->to_its_end);
        close_open(process->from);
        close_open(process->words);
        rt_text_release(&process->script);
        rt_text_release(&process->svg);
    }
    free(gnuplot);
}

static enum rt_status fail_start(int reason, struct rt_error *error)
{
    if (reason == ENOMEM)
        return rt_fail_memory(error);
    rt_fail(error, RT_SYSTEM, "gnuplot could not be started: %s", strerror(reason));
    rt_error_remedy(error, "install the package gnuplot-nox; the report is written without charts");
    return RT_SYSTEM;
}

static enum rt_status fail_run(const struct process *process, const char *what, struct rt_error *error)
{
    char words[512];
    const ssize_t length = pread(process->words, words, sizeof words - 1, 0);
    words[length < 0 ? 0 : length] = '\0';
    const char *first = words + strspn(words, "\n");
    if (*first != '\0')
        rt_fail(error, RT_SYSTEM, "gnuplot %s: %.*s", what, (int)strcspn(first, "\n"), first);
    else
        rt_fail(error, RT_SYSTEM, "gnuplot %s", what);
    rt_error_remedy(error,
                    "check that `gnuplot --version` says 5.4 or later; the report is written without charts");
    return RT_SYSTEM;
}

/* It wrote its last, and drawings are due. */
static enum rt_status fail_ended(struct process *process, struct rt_error *error)
{
    kill(process->id, SIGKILL); /* it may have closed its output and live on */
    const int result = end(process);
    if (WIFEXITED(result) && WEXITSTATUS(result) == 127)
        return fail_start(ENOENT, error); /* where spawning cannot say so itself, the child does */
    return fail_run(process, WIFEXITED(result) && WEXITSTATUS(result) == 0 ? "wrote no drawing" : "failed",
                    error);
}

static struct process *idlest(struct rt_gnuplot *gnuplot)
{
    struct process *idlest = &gnuplot->processes[0];
    for (size_t p = 1; p < gnuplot->count; p++)
        if (gnuplot->processes[p].given_count < idlest->given_count)
            idlest = &gnuplot->processes[p];
    return idlest;
}

/* next: the first drawing that was not yet given. */
static enum rt_status give(struct rt_gnuplot *gnuplot, const struct gnuplot_work *work, size_t *next,
                           struct rt_error *error)
{
    enum rt_status status = RT_OK;
    while (status == RT_OK && *next < work->count) {
        struct process *process = idlest(gnuplot);
        if (process->given_count == GIVEN_AHEAD)
            break;
        if (process->sent == process->script.length) {
            rt_text_clear(&process->script);
            process->sent = 0;
        }
        const size_t length = process->script.length;
        status = work->give(work->context, *next, &process->script, error);
        if (status == RT_OK)
            status = rt_text_status(&process->script, error);
        if (process->script.length > length)
            process->given[process->given_count++] = *next;
        ++*next;
    }
    return status;
}

static enum rt_status send(struct process *process, struct rt_error *error)
{
    const ssize_t written =
        write(process->to, process->script.bytes + process->sent, process->script.length - process->sent);
    if (written >= 0)
        process->sent += (size_t)written;
    else if (errno != EAGAIN && errno != EINTR)
        return rt_fail(error, RT_SYSTEM, "cannot write chart data for gnuplot: %s", strerror(errno));
    return RT_OK;
}

/* The drawings that came back whole. from: where what came last begins. */
static enum rt_status take(struct process *process, const struct gnuplot_work *work, size_t from,
                           struct rt_error *error)
{
    static const char last_line[] = "</svg>\n";
    const size_t last_length = sizeof last_line - 1;
    enum rt_status status = RT_OK;
    struct rt_text *svg = &process->svg;
    size_t begin = 0, search = from < last_length ? 0 : from - last_length;
    while (status == RT_OK && process->given_count > 0) {
        char *last = memmem(svg->bytes + search, svg->length - search, last_line, last_length);
        if (last == NULL)
            break;
        last[last_length - 1] = '\0';
        status = work->take(work->context, process->given[0], svg->bytes + begin, error);
        process->given_count--;
        memmove(process->given, process->given + 1, process->given_count * sizeof *process->given);
        begin = search = (size_t)(last + last_length - svg->bytes);
    }
    svg->length -= begin;
    memmove(svg->bytes, svg->bytes + begin, svg->length);
    return status;
}

static enum rt_status receive(struct process *process, const struct gnuplot_work *work,
                              struct rt_error *error)
{
    char chunk[CHUNK_BYTES];
    const ssize_t got = read(process->from, chunk, sizeof chunk);
    if (got < 0 && (errno == EINTR || errno == EAGAIN))
        return RT_OK;
    if (got <= 0)
        return fail_ended(process, error);
    const size_t from = process->svg.length;
    rt_text_add_bytes(&process->svg, chunk, (size_t)got);
    enum rt_status status = rt_text_status(&process->svg, error);
    if (status == RT_OK && process->svg.length > LARGEST_SVG_BYTES)
        status = fail_run(process, "wrote too large a drawing", error);
    return status == RT_OK ? take(process, work, from, error) : status;
}

static long ms_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (long)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Wait until one of them takes or gives something. */
static enum rt_status exchange(struct rt_gnuplot *gnuplot, const struct gnuplot_work *work, long deadline_ms,
                               struct rt_error *error)
{
    struct pollfd ends[2 * MOST_PROCESSES];
    enum rt_status status = RT_OK;
    for (size_t p = 0; p < gnuplot->count; p++) {
        const struct process *process = &gnuplot->processes[p];
        const bool due = process->given_count > 0, unsent = process->sent < process->script.length;
        ends[2 * p] = (struct pollfd){.fd = due && unsent ? process->to : -1, .events = POLLOUT};
        ends[2 * p + 1] = (struct pollfd){.fd = due ? process->from : -1, .events = POLLIN};
    }
    const long left_ms = deadline_ms - ms_now();
    const int ready = poll(ends, 2 * gnuplot->count, left_ms > 0 ? (int)left_ms : 0);
    if (ready < 0 && errno != EINTR)
        return rt_fail(error, RT_SYSTEM, "cannot wait for gnuplot: %s", strerror(errno));
    for (size_t p = 0; ready > 0 && status == RT_OK && p < gnuplot->count; p++) {
        if (ends[2 * p].revents != 0)
            status = send(&gnuplot->processes[p], error);
        if (status == RT_OK && ends[2 * p + 1].revents != 0)
            status = receive(&gnuplot->processes[p], work, error);
    }
    if (status == RT_OK && ready == 0 && left_ms <= 0)
        status = fail_run(idlest(gnuplot), "took longer than two minutes and was stopped", error);
    return status;
}

static bool is_due(const struct rt_gnuplot *gnuplot)
{
    for (size_t p = 0; p < gnuplot->count; p++)
        if (gnuplot->processes[p].given_count > 0)
            return true;
    return false;
}

enum rt_status gnuplot_run(struct rt_gnuplot *gnuplot, const struct gnuplot_work *work,
                           struct rt_error *error)
{
    const long deadline_ms = ms_now() + SLOWEST_MS;
    size_t next = 0;
    for (size_t p = 0; p < gnuplot->count; p++)
        if (gnuplot->processes[p].id == 0)
            return fail_start(gnuplot->processes[p].reason, error);
    enum rt_status status = give(gnuplot, work, &next, error);
    while (status == RT_OK && is_due(gnuplot)) {
        status = exchange(gnuplot, work, deadline_ms, error);
        if (status == RT_OK)
            status = give(gnuplot, work, &next, error);
    }
    stop(gnuplot); /* and is waited for later: going takes it a while */
    return status;
}
