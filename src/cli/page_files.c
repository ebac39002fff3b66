#include "ridgetally/cli/page_files.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/page/page.h"

#include <pthread.h>

/* Charts, as drawn by a thread of their own: what they are made of stays as it is meanwhile. */
struct drawing {
    struct rt_page_files *files;
    struct rt_error *error;
    enum rt_status status;
};

void rt_expect_charts(struct rt_page_files *files)
{
    files->gnuplot = rt_gnuplot_start();
}

static void *draw(void *context)
{
    struct drawing *drawing = context;
    struct rt_page_files *files = drawing->files;
    if (files->gnuplot == NULL && files->chart_count > 0)
        files->gnuplot = rt_gnuplot_start();
    drawing->status = rt_draw_charts_with(files->gnuplot, files->requests, files->chart_count, files->charts,
                                          drawing->error);
    return NULL;
}

static enum rt_status request_charts(const struct rt_document *document, struct rt_page_files *files,
                                     struct rt_error *error)
{
    size_t count = document->chart_count;
    files->requests = rt_new_array(count, sizeof *files->requests);
    files->charts = rt_new_array(count, sizeof *files->charts);
    if (files->requests == NULL || files->charts == NULL)
        return rt_fail_memory(error);
    files->chart_count = count;
    rt_document_charts(document, files->requests);
    return RT_OK;
}

/* A failure of gnuplot is kept in drawing, for the page goes out without charts. */
static enum rt_status take_drawing(struct rt_document *document, const struct drawing *drawing,
                                   struct rt_error *error)
{
    if (drawing->status == RT_SYSTEM) {
        document->without_charts = rt_document_text(document, "%s", drawing->error->message);
        return RT_OK;
    }
    if (drawing->status != RT_OK && error != NULL)
        *error = *drawing->error;
    return drawing->status;
}

/* The page, for which gnuplot's charts were drawn or not; what was rendered meanwhile is of use only if they were. */
static enum rt_status put_together(struct rt_document *document, struct rt_page_files *files,
                                   const struct rt_text *html, const size_t *places,
                                   const struct drawing *charts, struct rt_error *error)
{
    enum rt_status status = take_drawing(document, charts, error);
    if (status != RT_OK)
        return status;
    if (charts->status != RT_OK)
        return rt_render_page(document, NULL, &files->page, error);
    return rt_place_charts(html, places, files->charts, files->chart_count, &files->page, error);
}

enum rt_status rt_compose_page(struct rt_document *document, const struct rt_figure_list *figures,
                               struct rt_page_files *files, void (*meanwhile)(void *context), void *context,
                               struct rt_error *drawing, struct rt_error *error)
{
    struct drawing charts = {.files = files, .error = drawing};
    struct rt_text html = {0};
    size_t *places = rt_new_array(document->chart_count, sizeof *places);
    pthread_t thread;
    enum rt_status status = places == NULL ? rt_fail_memory(error) : request_charts(document, files, error);
    bool started = status == RT_OK && pthread_create(&thread, NULL, draw, &charts) == 0;
    if (meanwhile != NULL)
        meanwhile(context);
    rt_figures_to_csv(figures, &files->csv);
    if (status == RT_OK && !started)
        draw(&charts);
    if (status == RT_OK)
        status = rt_render_page(document, places, &html, error);
    if (started)
        pthread_join(thread, NULL);
    if (status == RT_OK)
        status = put_together(document, files, &html, places, &charts, error);
    rt_text_release(&html);
    free(places);
    return status == RT_OK ? rt_text_status(&files->csv, error) : status;
}

static char *path_in(const char *folder, const char *name)
{
    struct rt_text path = {0};
    rt_text_format(&path, "%s/%s", folder, name);
    return rt_text_detach(&path);
}

enum rt_status rt_write_page_files(const struct rt_page_files *files, const char *folder, const char *name,
                                   char **page, char **csv, struct rt_error *error)
{
    enum rt_status status = rt_check_interrupt(error); /* which may have ended gnuplot as well */
    if (status == RT_OK)
        status = rt_make_folder(folder, error);
    *page = path_in(folder, name);
    *csv = path_in(folder, "figures.csv");
    if (*page == NULL || *csv == NULL)
        return rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_write_file(*csv, files->csv.bytes, files->csv.length, error);
    if (status == RT_OK)
        status = rt_write_file(*page, files->page.bytes, files->page.length, error);
    return status;
}

void rt_release_page_files(struct rt_page_files *files)
{
    rt_gnuplot_end(files->gnuplot);
    if (files->charts != NULL)
        rt_release_charts(files->charts, files->chart_count);
    free(files->charts);
    free(files->requests);
    rt_text_release(&files->page);
    rt_text_release(&files->csv);
}
