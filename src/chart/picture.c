#include "ridgetally/chart/picture.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

static int start(pid_t *child, char *const arguments[], int output)
{
    posix_spawn_file_actions_t actions;
    int reason = posix_spawn_file_actions_init(&actions);
    if (reason != 0)
        return reason;
    posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_adddup2(&actions, output, 1);
    posix_spawn_file_actions_addopen(&actions, 2, "/dev/null", O_WRONLY, 0);
    reason = posix_spawnp(child, arguments[0], &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    return reason;
}

/* Into an open file, because rsvg-convert would leave a file of its own behind when it is stopped. */
static enum rt_status paint(char *svg, const char *png, int output, bool *painted, struct rt_error *error)
{
    char width[16];
    snprintf(width, sizeof width, "%d", RT_PICTURE_WIDE_PX);
    char *const arguments[] = {(char[]){"rsvg-convert"},
                               (char[]){"--width"},
                               width,
                               (char[]){"--keep-aspect-ratio"},
                               (char[]){"--background-color"},
                               (char[]){"#fdfcf9"},
                               (char[]){"--"},
                               svg,
                               NULL};
    pid_t child = 0;
    int state = 0, reason = start(&child, arguments, output);
    *painted = false;
    if (reason == ENOENT)
        return RT_OK;
    if (reason != 0)
        return rt_fail(error, RT_SYSTEM, "cannot start rsvg-convert: %s", strerror(reason));
    while (waitpid(child, &state, 0) < 0)
        if (errno != EINTR)
            return rt_fail(error, RT_SYSTEM, "cannot wait for rsvg-convert: %s", strerror(errno));
    if (WIFEXITED(state) && WEXITSTATUS(state) == 127)
        return RT_OK;
    if (!WIFEXITED(state) || WEXITSTATUS(state) != 0)
        return rt_fail(error, RT_SYSTEM, "rsvg-convert could not write %s", png);
    *painted = true;
    return RT_OK;
}

/* Painted beside and renamed when it is whole, as all files are: rsvg-convert may be stopped, or find no space. */
static enum rt_status paint_beside(char *svg, const char *png, bool *painted, struct rt_error *error)
{
    struct rt_text beside = {0};
    rt_text_format(&beside, "%s.part-XXXXXX", png);
    enum rt_status status = rt_text_status(&beside, error);
    int descriptor = status == RT_OK ? mkstemp(beside.bytes) : -1; /* mode 0600 */
    if (status == RT_OK && descriptor < 0)
        status = rt_fail(error, RT_SYSTEM, "cannot write %s: %s", png, strerror(errno));
    if (descriptor >= 0) {
        status = paint(svg, png, descriptor, painted, error);
        bool whole = status == RT_OK && *painted;
        if (whole && (fsync(descriptor) != 0 || rename(beside.bytes, png) != 0)) {
            status = rt_fail(error, RT_SYSTEM, "cannot write %s: %s", png, strerror(errno));
            whole = false;
        }
        close(descriptor);
        if (!whole)
            unlink(beside.bytes);
    }
    rt_text_release(&beside);
    return status;
}

enum rt_status rt_write_pictures(const char *svg, const char *stem, bool *painted, struct rt_error *error)
{
    struct rt_text from = {0}, to = {0}, alone = {0};
    *painted = false;
    rt_text_format(&from, "%s.svg", stem);
    rt_text_format(&to, "%s.png", stem);
    if (strncmp(svg, "<svg ", 5) == 0) /* on a page it takes the page's type */
        rt_text_format(&alone, "<svg font-family=\"sans-serif\" %s", svg + 5);
    else
        rt_text_add(&alone, svg);
    enum rt_status status = rt_text_status(&from, error);
    if (status == RT_OK)
        status = rt_text_status(&to, error);
    if (status == RT_OK)
        status = rt_text_status(&alone, error);
    if (status == RT_OK)
        status = rt_write_file(from.bytes, alone.bytes, alone.length, error);
    if (status == RT_OK)
        status = paint_beside(from.bytes, to.bytes, painted, error);
    rt_text_release(&from);
    rt_text_release(&to);
    rt_text_release(&alone);
    return status;
}
