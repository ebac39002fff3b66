#include "ridgetally/cli/open_page.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { POLLS = 50, POLL_NANOSECONDS = 20 * 1000 * 1000 };

/* A browser that ends within a second with a failure did not open the page; one that goes on showing it is left alone. */
static int outcome(pid_t child)
{
    const struct timespec pause = {.tv_nsec = POLL_NANOSECONDS};
    for (int i = 0; i < POLLS; i++) {
        int state = 0;
        pid_t ended = waitpid(child, &state, WNOHANG);
        if (ended == child)
            return WIFEXITED(state) && WEXITSTATUS(state) == 0 ? 0 : ECHILD;
        nanosleep(&pause, NULL);
    }
    return 0;
}

/* In a session of its own and with no hold on our streams: a caller that reads our output is not kept waiting, and closing
 * the terminal does not close the browser. Returns 0 or what errno would be. */
static int start(char *program, char *page)
{
    char *const arguments[] = {program, page, NULL};
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    pid_t child = 0;
    int reason = posix_spawn_file_actions_init(&actions);
    if (reason != 0)
        return reason;
    reason = posix_spawnattr_init(&attributes);
    if (reason != 0) {
        posix_spawn_file_actions_destroy(&actions);
        return reason;
    }
    reason = posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSID);
    for (int stream = STDIN_FILENO; reason == 0 && stream <= STDERR_FILENO; stream++)
        reason = posix_spawn_file_actions_addopen(&actions, stream, "/dev/null",
                                                  stream == STDIN_FILENO ? O_RDONLY : O_WRONLY, 0);
    if (reason == 0)
        reason = posix_spawnp(&child, program, &actions, &attributes, arguments, environ);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    return reason != 0 ? reason : outcome(child);
}

enum rt_status rt_open_page(const char *path, struct rt_error *error)
{
    const char *chosen = getenv("BROWSER");
    char *programs = rt_copy_text(chosen != NULL && chosen[0] != '\0' ? chosen : "xdg-open");
    char *page = realpath(path, NULL); /* absolute, so that no name of a file reads as an option */
    char *rest = NULL;
    enum rt_status status = programs == NULL ? rt_fail_memory(error) : RT_OK;
    int reason = ENOENT;
    bool started = false;
    for (char *program = programs == NULL ? NULL : strtok_r(programs, ":", &rest);
         page != NULL && program != NULL && !started; program = strtok_r(NULL, ":", &rest)) {
        reason = start(program, page);
        started = reason == 0;
    }
    if (status == RT_OK && !started) {
        status = rt_fail(error, RT_SYSTEM, "no browser could be started: %s",
                         reason == ECHILD ? "it ended with a failure" : strerror(reason));
        rt_error_remedy(error, "open %s yourself, or name a browser in BROWSER", path);
    }
    free(programs);
    free(page);
    return status;
}
