#include "panels.h"

#include <stdio.h>
#include <string.h>

struct panel_stack stack_panels(struct canvas *canvas, size_t count, double height)
{
    const struct panel_stack stack = {.height = height, .gap = 30.0, .top = 26.0, .count = count};
    canvas->drawing->height_px = stack.top + (double)count * (height + stack.gap) + 36.0;
    return stack;
}

void place_panel(struct canvas *canvas, const struct panel_stack *stack, size_t which, const char *name,
                 struct panel *panel)
{
    panel->top = stack->top + (double)which * (stack->height + stack->gap) + stack->gap - 8.0;
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
