#include "panels.h"

#include <stdio.h>
#include <string.h>

enum { MOST_IN_ONE_COLUMN = 3 };

struct panel_stack stack_panels(struct canvas *canvas, size_t count, double height, double left,
                                double right_margin)
{
    const double between = 14.0;
    struct panel_stack stack = {.height = height,
                                .gap = 30.0,
                                .top = 26.0,
                                .left = left,
                                .width = canvas->drawing->width_px - right_margin - left,
                                .count = count,
                                .columns = !canvas->narrow && count > MOST_IN_ONE_COLUMN ? 2 : 1};
    if (stack.columns == 2)
        stack.width = (stack.width - between - left) / 2.0;
    stack.step = stack.width + between + left;
    const size_t lines = (count + stack.columns - 1) / stack.columns;
    canvas->drawing->height_px = stack.top + (double)lines * (height + stack.gap) + 36.0;
    return stack;
}

bool is_lowest(const struct panel_stack *stack, size_t which)
{
    return which + stack->columns >= stack->count;
}

bool is_rightmost(const struct panel_stack *stack, size_t which)
{
    return (which + 1) % stack->columns == 0 || which + 1 == stack->count;
}

void place_panel(struct canvas *canvas, const struct panel_stack *stack, size_t which, const char *name,
                 struct panel *panel)
{
    const size_t line = which / stack->columns, column = which % stack->columns;
    panel->left = stack->left + (double)column * stack->step;
    panel->right = panel->left + stack->width;
    panel->top = stack->top + (double)line * (stack->height + stack->gap) + stack->gap - 8.0;
    panel->bottom = panel->top + stack->height;
    canvas_name(canvas, panel->left, panel->top - 11.0, ANCHOR_START, INK_STRONG, name);
}

void title_panels(struct canvas *canvas, const struct panel *last, const char *x_title, const char *y_title)
{
    canvas_text(canvas, 2.0, 12.0, ANCHOR_START, y_title);
    canvas_text(canvas, last->right, last->bottom + 33.0, ANCHOR_END, x_title);
}

const char *first_part(const char *level, char *text, size_t size)
{
    snprintf(text, size, "%.*s", (int)strcspn(level, "|"), level);
    return text;
}
