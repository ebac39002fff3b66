#include "render.h"
#include "ridgetally/page/escape.h"
#include "ridgetally/page/number.h"

#include <stdlib.h>
#include <string.h>

void rt_html_add_name(struct rt_text *html, const char *text)
{
    if (text[0] == '\0')
        return;
    rt_html_add_raw(html, "<span class=\"name\">");
    rt_html_add(html, text);
    rt_html_add_raw(html, "</span>");
}

static const struct rt_slot *find_slot(const struct rt_sentence *sentence, const char *name, size_t length)
{
    for (const struct rt_slot *slot = sentence->slots; slot != NULL; slot = slot->next)
        if (strlen(slot->name) == length && memcmp(slot->name, name, length) == 0)
            return slot;
    return NULL;
}

/* name: what stands between the braces, length bytes. */
static enum rt_status add_slot(struct rt_text *html, const struct rt_sentence *sentence, const char *name,
                               size_t length, struct rt_error *error)
{
    const char *dot = memchr(name, '.', length);
    size_t name_length = dot != NULL ? (size_t)(dot - name) : length;
    const struct rt_slot *slot = find_slot(sentence, name, name_length);
    enum rt_slot_part part = RT_PART_TEXT;
    bool known = slot != NULL;
    if (known && dot != NULL)
        known = slot->figure != NULL && rt_slot_part_of(dot + 1, length - name_length - 1, &part);
    if (!known || (dot == NULL && slot->figure != NULL))
        return rt_fail(error, RT_USE, "nothing fills the slot {%.*s} of the wording '%s'", (int)length, name,
                       sentence->key);
    if (part == RT_PART_TEXT)
        rt_html_add_name(html, slot->text);
    else
        rt_html_add_part(html, slot->figure, part, false);
    return RT_OK;
}

static void add_piece(struct rt_text *html, const char *piece, size_t length)
{
    struct rt_text copy = {0};
    rt_text_add_bytes(&copy, piece, length);
    if (copy.failed)
        html->failed = true;
    else
        rt_html_add(html, copy.bytes);
    rt_text_release(&copy);
}

/* A definition's number, `[180 days]`: marked, because every other number is a figure. */
static void add_definition(struct rt_text *html, const char *words, size_t length)
{
    rt_html_add_raw(html, "<span class=\"definition\">");
    add_piece(html, words, length);
    rt_html_add_raw(html, "</span>");
}

enum rt_status rt_html_add_sentence(struct rt_text *html, const struct rt_sentence *sentence,
                                    struct rt_error *error)
{
    enum rt_status status = RT_OK;
    const char *at = sentence->template;
    while (status == RT_OK && *at != '\0') {
        size_t plain = strcspn(at, "{[");
        if (plain > 0)
            add_piece(html, at, plain);
        at += plain;
        if (*at == '\0')
            break;
        const char *close = strchr(at, *at == '{' ? '}' : ']');
        if (close == NULL)
            return rt_fail(error, RT_USE, "the wording '%s' has an open %c", sentence->key, *at);
        size_t length = (size_t)(close - at - 1);
        if (*at == '{')
            status = add_slot(html, sentence, at + 1, length, error);
        else
            add_definition(html, at + 1, length);
        at = close + 1;
    }
    return status;
}

enum rt_status rt_html_add_sentences(struct rt_text *html, const struct rt_sentence *first,
                                     struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (const struct rt_sentence *sentence = first; status == RT_OK && sentence != NULL;
         sentence = sentence->next) {
        if (sentence != first)
            rt_html_add(html, " ");
        status = rt_html_add_sentence(html, sentence, error);
    }
    return status;
}
