#include "gnuplot.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <spawn.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { MOST_PROCESSES = 8, SLOWEST_SECONDS = 120, LARGEST_SVG_BYTES = 64 * 1024 * 1024 };

/* One run: a private folder with a data file and an SVG per drawing and a script per process. */
struct run {
    const struct drawing *drawings;
    size_t count, processes;
    char *folder;
};

static char *path_in(const struct run *run, const char *kind, size_t index)
{
    struct rt_text path = {0};
    rt_text_format(&path, "%s/%s-%zu", run->folder, kind, index);
    return rt_text_detach(&path);
}

/* A pixel to a hundredth, as %.2f has it: pixels are settled to hundredths, so that none lies halfway between two. printf takes
 * ten times as long, and a page has a hundred thousand. */
static void add_pixel(struct rt_text *data, double pixel)
{
    char digits[32];
    size_t at = sizeof digits;
    if (!(fabs(pixel) < 1e9)) {
        rt_text_format(data, "%.2f", pixel);
        return;
    }
    unsigned long hundredths = (unsigned long)llround(fabs(pixel) * 100.0);
    for (int place = 0; place < 3 || hundredths > 0; place++) {
        digits[--at] = (char)('0' + hundredths % 10);
        hundredths /= 10;
        if (place == 1)
            digits[--at] = '.';
    }
    if (signbit(pixel))
        digits[--at] = '-';
    rt_text_add_bytes(data, digits + at, sizeof digits - at);
}

/* Coordinates only: y is turned because gnuplot counts upwards. Labels carry their mark's number between @.
 */
static void add_data(const struct drawing *drawing, struct rt_text *data)
{
    for (size_t m = 0; m < drawing->mark_count; m++) {
        const struct mark *mark = &drawing->marks[m];
        for (size_t i = mark->first; i < mark->first + mark->count; i++) {
            add_pixel(data, drawing->x[i]);
            rt_text_add_character(data, '\t');
            add_pixel(data, drawing->height_px - drawing->y[i]);
            if (mark->kind == MARK_LABEL)
                rt_text_format(data, "\t@%zu@", m);
            rt_text_add_character(data, '\n');
        }
        rt_text_add(data, "\n\n");
    }
}

static const char *dash_text(enum dash dash)
{
    switch (dash) {
    case DASH_LONG:
        return " dt (8,4)";
    case DASH_SHORT:
        return " dt (3,3)";
    case DASH_SOLID:
        break;
    }
    return " dt solid";
}

static void add_plot_element(const struct mark *mark, size_t index, struct rt_text *script)
{
    static const char *const anchors[] = {"left", "center", "right"};
    rt_text_format(script, "DATA index %zu using 1:2", index);
    switch (mark->kind) {
    case MARK_LINE:
        rt_text_format(script, " with lines lc rgb '%s' lw %.2f%s", mark->line.colour, mark->line.width_px,
                       dash_text(mark->line.dash));
        break;
    case MARK_AREA:
        rt_text_format(script, " with filledcurves closed fs transparent solid %.2f noborder lc rgb '%s'",
                       mark->opacity, mark->line.colour);
        break;
    case MARK_POINTS: /* point size 1 is drawn with radius 4.5 px at 12 px type */
        rt_text_format(script, " with points pt %d ps %.4f lw 1 lc rgb '%s'", (int)mark->point.shape,
                       mark->point.radius_px / 4.5, mark->point.colour);
        break;
    case MARK_LABEL:
        rt_text_format(script, ":3 with labels noenhanced %s font ',%.0f' tc rgb '%s'",
                       anchors[mark->label.anchor], mark->label.size_px, mark->label.colour);
        break;
    }
}

static void add_plot(const struct run *run, size_t index, struct rt_text *script)
{
    const struct drawing *drawing = &run->drawings[index];
    rt_text_format(script,
                   "set terminal svg size %.0f,%.0f fixed font 'sans,12' noenhanced\nset output 'svg-%zu'\n"
                   "DATA = 'data-%zu'\nset xrange [0:%.0f]\nset yrange [0:%.0f]\nplot ",
                   drawing->width_px, drawing->height_px, index, index, drawing->width_px,
                   drawing->height_px);
    for (size_t m = 0; m < drawing->mark_count; m++) {
        if (m > 0)
            rt_text_add(script, ", \\\n  ");
        add_plot_element(&drawing->marks[m], m, script);
    }
    rt_text_add(script, drawing->mark_count == 0 ? "-1\nunset output\n" : "\nunset output\n");
}

static enum rt_status write_text(const struct run *run, const char *kind, size_t index, struct rt_text *text,
                                 struct rt_error *error)
{
    char *path = path_in(run, kind, index);
    enum rt_status status = path == NULL ? rt_fail_memory(error) : rt_text_status(text, error);
    if (status == RT_OK) {
        FILE *stream = fopen(path, "wbe");
        if (stream == NULL || fwrite(text->bytes, 1, text->length, stream) != text->length)
            status = rt_fail(error, RT_SYSTEM, "cannot write chart data for gnuplot: %s", strerror(errno));
        if (stream != NULL && fclose(stream) != 0 && status == RT_OK)
            status = rt_fail(error, RT_SYSTEM, "cannot write chart data for gnuplot: %s", strerror(errno));
    }
    free(path);
    return status;
}

static enum rt_status write_inputs(const struct run *run, struct rt_error *error)
{
    struct rt_text text = {0};
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < run->count && status == RT_OK; i++) {
        rt_text_clear(&text);
        rt_text_add(&text, "# marks in pixels\n");
        add_data(&run->drawings[i], &text);
        status = write_text(run, "data", i, &text, error);
    }
    for (size_t p = 0; p < run->processes && status == RT_OK; p++) {
        rt_text_clear(&text);
        rt_text_format(&text,
                       "cd '%s'\nset datafile separator \"\\t\"\nunset key\nunset border\nunset tics\n"
                       "set lmargin at screen 0\nset rmargin at screen 1\n"
                       "set bmargin at screen 0\nset tmargin at screen 1\n",
                       run->folder);
        for (size_t i = p; i < run->count; i += run->processes)
            add_plot(run, i, &text);
        status = write_text(run, "script", p, &text, error);
    }
    rt_text_release(&text);
    return status;
}

static enum rt_status fail_start(int reason, struct rt_error *error)
{
    rt_fail(error, RT_SYSTEM, "gnuplot could not be started: %s", strerror(reason));
    rt_error_remedy(error, "install the package gnuplot-nox; the report is written without charts");
    return RT_SYSTEM;
}

static enum rt_status start(const struct run *run, size_t process, pid_t *child, struct rt_error *error)
{
    char *script = path_in(run, "script", process);
    char *words = path_in(run, "words", process);
    posix_spawn_file_actions_t actions;
    int reason = posix_spawn_file_actions_init(&actions);
    if (script == NULL || words == NULL || reason != 0) {
        free(script);
        free(words);
        return rt_fail_memory(error);
    }
    posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_addopen(&actions, 1, words, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    posix_spawn_file_actions_adddup2(&actions, 1, 2);
    char name[] = "gnuplot";
    char plain[] = "-d"; /* no settings of the user's own */
    char *const arguments[] = {name, plain, script, NULL};
    reason = posix_spawnp(child, name, &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    free(script);
    free(words);
    return reason == 0 ? RT_OK : fail_start(reason, error);
}

static double seconds_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static enum rt_status fail_run(const struct run *run, size_t process, const char *what,
                               struct rt_error *error)
{
    char *path = path_in(run, "words", process);
    char *words = NULL;
    size_t length = 0;
    if (path != NULL && rt_read_file(path, 65536, &words, &length, NULL) == RT_OK && length > 0) {
        words[strcspn(words, "\n") == 0 && length > 1 ? 1 + strcspn(words + 1, "\n") : strcspn(words, "\n")] =
            '\0';
        rt_fail(error, RT_SYSTEM, "gnuplot %s: %.300s", what, words[0] == '\n' ? words + 1 : words);
    } else {
        rt_fail(error, RT_SYSTEM, "gnuplot %s", what);
    }
    rt_error_remedy(error,
                    "check that `gnuplot --version` says 5.4 or later; the report is written without charts");
    free(words);
    free(path);
    return RT_SYSTEM;
}

/* Wait for one child until the deadline; a late one is killed. */
static enum rt_status wait_for(const struct run *run, size_t process, pid_t child, double deadline,
                               struct rt_error *error)
{
    int result = 0;
    pid_t ended = 0;
    while ((ended = waitpid(child, &result, WNOHANG)) == 0 || (ended < 0 && errno == EINTR)) {
        if (seconds_now() > deadline) {
            kill(child, SIGKILL);
            waitpid(child, &result, 0);
            return fail_run(run, process, "took longer than two minutes and was stopped", error);
        }
        nanosleep(&(struct timespec){.tv_nsec = 5 * 1000 * 1000}, NULL);
    }
    if (ended == child && WIFEXITED(result) && WEXITSTATUS(result) == 127)
        return fail_start(ENOENT, error); /* where spawning cannot say so itself, the child does */
    if (ended < 0 || !WIFEXITED(result) || WEXITSTATUS(result) != 0)
        return fail_run(run, process, "failed", error);
    return RT_OK;
}

static enum rt_status run_processes(const struct run *run, struct rt_error *error)
{
    pid_t children[MOST_PROCESSES];
    size_t started = 0;
    enum rt_status status = RT_OK;
    while (started < run->processes && status == RT_OK) {
        status = start(run, started, &children[started], error);
        if (status == RT_OK)
            started++;
    }
    double deadline = seconds_now() + SLOWEST_SECONDS;
    for (size_t p = 0; p < started; p++) {
        enum rt_status ended = wait_for(run, p, children[p], deadline, error);
        if (status == RT_OK)
            status = ended;
    }
    return status;
}

static enum rt_status read_results(const struct run *run, char **svg, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < run->count && status == RT_OK; i++) {
        char *path = path_in(run, "svg", i);
        size_t length = 0;
        status = path == NULL ? rt_fail_memory(error)
                              : rt_read_file(path, LARGEST_SVG_BYTES, &svg[i], &length, NULL);
        if (status != RT_OK && status != RT_MEMORY)
            status = fail_run(run, i % run->processes, "wrote no drawing", error);
        free(path);
    }
    return status;
}

static void remove_files(const struct run *run)
{
    static const char *const kinds[] = {"data", "svg", "script", "words"};
    size_t most = run->count > run->processes ? run->count : run->processes;
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        for (size_t i = 0; i < most; i++) {
            char *path = path_in(run, kinds[k], i);
            if (path != NULL)
                unlink(path);
            free(path);
        }
    }
    rmdir(run->folder);
}

/* A private folder; its path must be fit to stand between quotes in a script. */
static char *make_folder(struct rt_error *error)
{
    const char *parent = getenv("TMPDIR");
    if (parent == NULL || parent[0] != '/' || strpbrk(parent, "'\\\n") != NULL)
        parent = "/tmp";
    struct rt_text path = {0};
    rt_text_format(&path, "%s/ridgetally-charts-XXXXXX", parent);
    char *folder = rt_text_detach(&path);
    if (folder == NULL) {
        rt_fail_memory(error);
    } else if (mkdtemp(folder) == NULL) {
        rt_fail(error, RT_SYSTEM, "cannot make a folder for charts: %s", strerror(errno));
        rt_error_locate(error, parent, 0, NULL);
        rt_error_remedy(error, "set TMPDIR to a folder with free space");
        free(folder);
        folder = NULL;
    }
    return folder;
}

enum rt_status gnuplot_draw(const struct drawing *drawings, size_t count, size_t processes, char **svg,
                            struct rt_error *error)
{
    struct run run = {.drawings = drawings, .count = count, .processes = processes};
    if (run.processes > MOST_PROCESSES)
        run.processes = MOST_PROCESSES;
    if (run.processes > count)
        run.processes = count;
    if (run.processes == 0)
        run.processes = 1;
    for (size_t i = 0; i < count; i++)
        svg[i] = NULL;
    if (count == 0)
        return RT_OK;
    run.folder = make_folder(error);
    if (run.folder == NULL)
        return error != NULL && error->status != RT_OK ? error->status : RT_SYSTEM;
    enum rt_status status = write_inputs(&run, error);
    if (status == RT_OK)
        status = run_processes(&run, error);
    if (status == RT_OK)
        status = read_results(&run, svg, error);
    for (size_t i = 0; i < count && status != RT_OK; i++) {
        free(svg[i]);
        svg[i] = NULL;
    }
    remove_files(&run);
    free(run.folder);
    return status;
}
