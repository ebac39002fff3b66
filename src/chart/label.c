#include "label.h"

#include "canvas.h"

#include "ridgetally/figure/catalogue.h"

#include <stdio.h>
#include <string.h>

static void add(struct label *label, struct label_part part, const char *text)
{
    size_t room = sizeof label->text - 1 - label->length, length = strlen(text);
    if (label->part_count == LABEL_PARTS)
        return;
    if (length > room)
        for (length = room; length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80;)
            length--;
    if (length == 0)
        return;
    memcpy(label->text + label->length, text, length);
    label->length += length;
    label->text[label->length] = '\0';
    part.length = length;
    label->parts[label->part_count++] = part;
}

void label_words(struct label *label, const char *words)
{
    add(label, (struct label_part){.kind = LABEL_WORDS}, words);
}

void label_name(struct label *label, const char *name)
{
    add(label, (struct label_part){.kind = LABEL_NAME}, name);
}

void label_tick(struct label *label, const char *number)
{
    add(label, (struct label_part){.kind = LABEL_TICK}, number);
}

static void add_number(struct label *label, const struct rt_figure *figure, const char *column,
                       const char *text)
{
    add(label, (struct label_part){.kind = LABEL_FIGURE, .figure = figure, .column = column}, text);
}

void label_value(struct label *label, const struct rt_figure *figure, int decimals, bool signed_value)
{
    char text[48];
    number_text(figure->value, decimals, signed_value, text, sizeof text);
    add_number(label, figure, "value", text);
}

void label_percent(struct label *label, const struct rt_figure *figure, int decimals)
{
    char number[48], text[64];
    number_text(figure->value * 100.0, decimals, false, number, sizeof number);
    snprintf(text, sizeof text, "%s%%", number);
    add_number(label, figure, "value", text);
}

void label_count(struct label *label, const struct rt_figure *figure, enum label_count which)
{
    static const char *const columns[] = {"n_implants", "n_patients", "n_events", "n_due"};
    const long counts[] = {figure->n_implants, figure->n_patients, figure->n_events, figure->n_due};
    char text[32];
    snprintf(text, sizeof text, "%ld", counts[which]);
    add_number(label, figure, columns[which], text);
}

void label_time(struct label *label, const struct rt_figure *figure)
{
    const struct rt_measure *measure = rt_find_measure(figure->section, figure->measure);
    const char *unit = measure == NULL ? "" : measure->at_unit;
    const size_t length = strlen(unit);
    char text[48];
    snprintf(text, sizeof text, "%.15g", figure->at);
    add_number(label, figure, "at", text);
    label_words(label, " ");
    snprintf(text, sizeof text, "%.*s",
             (int)(figure->at == 1.0 && length > 0 && unit[length - 1] == 's' ? length - 1 : length), unit);
    label_words(label, text);
}

void label_cases(struct label *label, const struct rt_figure *figure)
{
    label_count(label, figure, COUNT_IMPLANTS);
    label_words(label, " / ");
    label_count(label, figure, COUNT_PATIENTS);
}

void label_events(struct label *label, const struct rt_figure *figure, enum label_count of)
{
    if (figure->n_events < 0) {
        label_words(label, "n = ");
        label_count(label, figure, COUNT_IMPLANTS);
        return;
    }
    label_count(label, figure, COUNT_EVENTS);
    label_words(label, " of ");
    label_count(label, figure, of);
}
