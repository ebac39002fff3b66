#include "drawing.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

static struct mark *add_mark(struct drawing *drawing, enum mark_kind kind)
{
    if (drawing->failed)
        return NULL;
    struct mark *marks =
        rt_grow_array(drawing->marks, &drawing->mark_capacity, drawing->mark_count + 1, sizeof *marks);
    if (marks == NULL) {
        drawing->failed = true;
        return NULL;
    }
    drawing->marks = marks;
    struct mark *mark = &marks[drawing->mark_count++];
    *mark = (struct mark){.kind = kind, .first = drawing->coordinate_count};
    return mark;
}

/* Pixels to a hundredth: the drawing is the same text on every machine. */
static double settle(double pixel)
{
    return round(pixel * 100.0) / 100.0;
}

static void add_coordinate(struct drawing *drawing, double x, double y)
{
    if (drawing->failed)
        return;
    size_t needed = drawing->coordinate_count + 1;
    double *xs = rt_grow_array(drawing->x, &drawing->x_capacity, needed, sizeof *xs);
    if (xs != NULL)
        drawing->x = xs;
    double *ys = rt_grow_array(drawing->y, &drawing->y_capacity, needed, sizeof *ys);
    if (ys != NULL)
        drawing->y = ys;
    if (xs == NULL || ys == NULL || !isfinite(x) || !isfinite(y)) {
        drawing->failed = true;
        return;
    }
    drawing->x[drawing->coordinate_count] = settle(x);
    drawing->y[drawing->coordinate_count] = settle(y);
    drawing->coordinate_count = needed;
    drawing->marks[drawing->mark_count - 1].count++;
}

void drawing_polyline(struct drawing *drawing, struct line_style style, size_t count, const double *x,
                      const double *y)
{
    struct mark *mark = count >= 2 ? add_mark(drawing, MARK_LINE) : NULL;
    if (mark == NULL)
        return;
    mark->line = style;
    for (size_t i = 0; i < count; i++)
        add_coordinate(drawing, x[i], y[i]);
}

void drawing_segment(struct drawing *drawing, struct line_style style, double x1, double y1, double x2,
                     double y2)
{
    drawing_polyline(drawing, style, 2, (const double[]){x1, x2}, (const double[]){y1, y2});
}

void drawing_area(struct drawing *drawing, const char *colour, double opacity, size_t count, const double *x,
                  const double *y)
{
    struct mark *mark = count >= 3 ? add_mark(drawing, MARK_AREA) : NULL;
    if (mark == NULL)
        return;
    mark->line.colour = colour;
    mark->opacity = opacity;
    for (size_t i = 0; i < count; i++)
        add_coordinate(drawing, x[i], y[i]);
}

void drawing_rectangle(struct drawing *drawing, const char *colour, double opacity, double x1, double y1,
                       double x2, double y2)
{
    drawing_area(drawing, colour, opacity, 4, (const double[]){x1, x2, x2, x1},
                 (const double[]){y1, y1, y2, y2});
}

static bool same_point_style(const struct point_style *a, const struct point_style *b)
{
    return a->shape == b->shape && a->radius_px == b->radius_px && strcmp(a->colour, b->colour) == 0;
}

void drawing_point(struct drawing *drawing, struct point_style style, double x, double y)
{
    struct mark *last = drawing->mark_count > 0 ? &drawing->marks[drawing->mark_count - 1] : NULL;
    if (last == NULL || last->kind != MARK_POINTS || !same_point_style(&last->point, &style)) {
        last = add_mark(drawing, MARK_POINTS);
        if (last == NULL)
            return;
        last->point = style;
    }
    add_coordinate(drawing, x, y);
}

static bool add_parts(struct drawing *drawing, const struct label *label)
{
    const size_t needed = drawing->label_part_count + label->part_count;
    struct label_part *parts = rt_grow_array(drawing->parts, &drawing->part_capacity, needed, sizeof *parts);
    if (parts == NULL)
        return false;
    drawing->parts = parts;
    memcpy(parts + drawing->label_part_count, label->parts, label->part_count * sizeof *parts);
    drawing->label_part_count = needed;
    return true;
}

void drawing_label(struct drawing *drawing, struct label_style style, double x, double y,
                   const struct label *label)
{
    if (label->part_count == 0)
        return;
    struct mark *mark = add_mark(drawing, MARK_LABEL);
    if (mark == NULL)
        return;
    mark->label = style;
    mark->text = rt_arena_copy(&drawing->text, label->text);
    mark->first_part = drawing->label_part_count;
    mark->part_count = label->part_count;
    if (mark->text == NULL || !add_parts(drawing, label))
        drawing->failed = true;
    add_coordinate(drawing, x, y);
}

double text_width_px(const char *text, double size_px)
{
    double characters = 0.0;
    for (const char *at = text; *at != '\0'; at++)
        if (((unsigned char)*at & 0xC0) != 0x80) /* count UTF-8 characters, not bytes */
            characters += *at == '%' ? 1.6 : 1.0;
    return characters * size_px * 0.6; /* the widest of the usual fonts */
}

void drawing_release(struct drawing *drawing)
{
    free(drawing->marks);
    free(drawing->x);
    free(drawing->y);
    free(drawing->parts);
    rt_arena_release(&drawing->text);
    *drawing = (struct drawing){0};
}
