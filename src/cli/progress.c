#include "ridgetally/cli/progress.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"
#include "ridgetally/base/progress.h"
#include "ridgetally/base/text.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

enum { BAR_CELLS = 20, LONGEST_WORK = 80, DEFAULT_WIDTH = 80, WIDEST = 1000, SECONDS_OF_MOST = 100 * 3600 };

static const double FIRST_AFTER_S = 1, AGAIN_AFTER_S = 0.1;

struct bar {
    struct rt_progress progress; /* first, so that a pointer to it is one to the bar */
    char doing[LONGEST_WORK];    /* the work that is shown */
    double started_s, drawn_s;
    bool drawn, colour;
};

int rt_terminal_width(int descriptor)
{
    struct winsize size = {.ws_col = 0};
    const char *columns = getenv("COLUMNS");
    long width = 0;
    if (!isatty(descriptor))
        return 0;
    if (columns != NULL && rt_parse_integer(columns, &width) && width > 0 && width <= WIDEST)
        return (int)width;
    if (ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col;
    return DEFAULT_WIDTH;
}

static double now_s(void)
{
    struct timespec now = {.tv_sec = 0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void add_bar(const struct bar *bar, double share, struct rt_text *text)
{
    int filled = (int)(share * BAR_CELLS);
    rt_text_add(text, "[");
    rt_text_add(text, bar->colour ? "\033[32m" : "");
    for (int i = 0; i < BAR_CELLS; i++)
        rt_text_add_character(text, i < filled ? '#' : '.');
    rt_text_add(text, bar->colour ? "\033[0m" : "");
    rt_text_format(text, "] %3d%%  ", (int)(share * 100));
}

/* The words after the bar, at most width bytes of them: a line that wraps could not be erased. */
static void add_words(const struct bar *bar, const struct rt_progress_step *step, double passed_s, int width,
                      struct rt_text *text)
{
    char words[LONGEST_WORK * 3];
    char rate[64] = "", left[64] = "";
    if (isfinite(step->done) && step->done > 0)
        snprintf(rate, sizeof rate, ", %.0f %s/s", step->done / passed_s, step->unit);
    double left_s = step->share > 0 ? passed_s / step->share - passed_s : NAN;
    if (isfinite(left_s) && left_s < SECONDS_OF_MOST)
        snprintf(left, sizeof left, ", %d:%02d left", (int)(left_s / 60), (int)left_s % 60);
    else
        snprintf(left, sizeof left, ", %.0f s so far", passed_s);
    snprintf(words, sizeof words, "%s%s%s", bar->doing, left, rate);
    if (width > 0 && (int)strlen(words) > width)
        words[width] = '\0';
    rt_text_add_plain(text, width > 0 ? words : "");
}

static void draw(struct bar *bar, const struct rt_progress_step *step, double passed_s)
{
    struct rt_text text = {0};
    int width = rt_terminal_width(STDERR_FILENO) - 1;
    bool share = isfinite(step->share) && width >= BAR_CELLS + 30;
    rt_text_add(&text, "\r\033[K");
    if (share)
        add_bar(bar, step->share < 0 ? 0 : step->share > 1 ? 1 : step->share, &text);
    add_words(bar, step, passed_s, width - (share ? BAR_CELLS + 9 : 0), &text);
    if (!text.failed) {
        fwrite(text.bytes, 1, text.length, stderr);
        fflush(stderr);
        bar->drawn = true;
    }
    rt_text_release(&text);
}

static void show(struct rt_progress *progress, const struct rt_progress_step *step)
{
    struct bar *bar = (struct bar *)progress;
    double now = now_s();
    bool other = strncmp(bar->doing, step->doing, sizeof bar->doing - 1) != 0;
    if (other) {
        snprintf(bar->doing, sizeof bar->doing, "%s", step->doing);
        bar->started_s = now;
    }
    /* work that follows work that is shown is shown at once, or the old words would stand there */
    bool due =
        bar->drawn ? other || now - bar->drawn_s >= AGAIN_AFTER_S : now - bar->started_s >= FIRST_AFTER_S;
    if (!due)
        return;
    draw(bar, step, now - bar->started_s > 0.001 ? now - bar->started_s : 0.001);
    bar->drawn_s = now;
}

static void end(struct rt_progress *progress)
{
    struct bar *bar = (struct bar *)progress;
    if (bar->drawn) {
        fputs("\r\033[K", stderr);
        fflush(stderr);
    }
    bar->drawn = false;
    bar->doing[0] = '\0';
}

static void release(struct rt_progress *progress)
{
    end(progress);
    free(progress);
}

void rt_show_progress(struct rt_store *store)
{
    const char *kind = getenv("TERM");
    const char *plain = getenv("NO_COLOR");
    if (!isatty(STDERR_FILENO) || kind == NULL || kind[0] == '\0' || strcmp(kind, "dumb") == 0)
        return;
    struct bar *bar = rt_new_array(1, sizeof *bar);
    if (bar == NULL)
        return;
    bar->progress = (struct rt_progress){show, end, release};
    bar->colour = plain == NULL || plain[0] == '\0';
    rt_store_watch(store, &bar->progress);
}
