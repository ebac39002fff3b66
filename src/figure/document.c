#include "ridgetally/figure/document.h"

#include "ridgetally/base/text.h"
#include "ridgetally/figure/wording.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *word;
    enum rt_slot_part part;
} part_words[] = {
    {"value", RT_PART_VALUE},
    {"amount", RT_PART_AMOUNT},
    {"size", RT_PART_SIZE},
    {"lower", RT_PART_LOWER},
    {"upper", RT_PART_UPPER},
    {"lower_size", RT_PART_LOWER_SIZE},
    {"upper_size", RT_PART_UPPER_SIZE},
    {"interval", RT_PART_INTERVAL},
    {"sizes", RT_PART_SIZES},
    {"estimate", RT_PART_ESTIMATE},
    {"share", RT_PART_SHARE},
    {"p", RT_PART_P},
    {"p_adjusted", RT_PART_P_ADJUSTED},
    {"implants", RT_PART_IMPLANTS},
    {"patients", RT_PART_PATIENTS},
    {"cases", RT_PART_CASES},
    {"n", RT_PART_N},
    {"events", RT_PART_EVENTS},
    {"due", RT_PART_DUE},
    {"events_of", RT_PART_EVENTS_OF},
};

bool rt_slot_part_of(const char *word, size_t length, enum rt_slot_part *part)
{
    for (size_t i = 0; i < sizeof part_words / sizeof part_words[0]; i++) {
        if (strlen(part_words[i].word) == length && memcmp(part_words[i].word, word, length) == 0) {
            *part = part_words[i].part;
            return true;
        }
    }
    return false;
}

static bool failed(const struct rt_document *document)
{
    return document->out_of_memory || document->missing_wording[0] != '\0';
}

static void *new_part(struct rt_document *document, size_t size)
{
    if (failed(document))
        return NULL;
    void *part = rt_arena_new(&document->arena, size);
    if (part == NULL)
        document->out_of_memory = true;
    return part;
}

static const char *own(struct rt_document *document, const char *text)
{
    if (failed(document))
        return "";
    const char *copy = rt_arena_copy(&document->arena, text == NULL ? "" : text);
    if (copy == NULL)
        document->out_of_memory = true;
    return copy == NULL ? "" : copy;
}

const char *rt_document_words(struct rt_document *document, const char *key)
{
    if (failed(document))
        return "";
    bool known = true;
    const char *words = NULL;
    if (document->wordings == NULL)
        document->wordings = rt_new_wordings();
    if (document->wordings != NULL)
        words = rt_find_wording(document->wordings, &document->arena, key, &known);
    if (words == NULL && known)
        document->out_of_memory = true;
    else if (words == NULL)
        snprintf(document->missing_wording, sizeof document->missing_wording, "%s", key);
    return words == NULL ? "" : words;
}

const char *rt_document_text(struct rt_document *document, const char *format, ...)
{
    if (failed(document))
        return "";
    va_list arguments;
    va_start(arguments, format);
    char *formatted = NULL;
    int length = vasprintf(&formatted, format, arguments);
    va_end(arguments);
    if (length < 0) {
        document->out_of_memory = true;
        return "";
    }
    const char *text = own(document, formatted);
    free(formatted);
    return text;
}

struct rt_chapter *rt_add_chapter(struct rt_document *document, const char *id, const char *heading_key)
{
    struct rt_chapter *chapter = new_part(document, sizeof *chapter);
    if (chapter == NULL)
        return NULL;
    chapter->id = own(document, id);
    chapter->heading = rt_document_words(document, heading_key);
    if (document->last_chapter == NULL)
        document->chapters = chapter;
    else
        document->last_chapter->next = chapter;
    document->last_chapter = chapter;
    return chapter;
}

struct rt_block *rt_add_block(struct rt_document *document, struct rt_chapter *chapter, const char *id,
                              const char *heading_key)
{
    struct rt_block *block = chapter == NULL ? NULL : new_part(document, sizeof *block);
    if (block == NULL)
        return NULL;
    block->id = own(document, id);
    block->heading = heading_key == NULL ? "" : rt_document_words(document, heading_key);
    block->method_id = "";
    if (chapter->last_block == NULL)
        chapter->blocks = block;
    else
        chapter->last_block->next = block;
    chapter->last_block = block;
    return block;
}

struct rt_entry *rt_add_entry(struct rt_document *document, struct rt_chapter *chapter, const char *id,
                              const char *term)
{
    struct rt_entry *entry = chapter == NULL ? NULL : new_part(document, sizeof *entry);
    if (entry == NULL)
        return NULL;
    entry->id = own(document, id);
    entry->term = own(document, term);
    if (chapter->last_entry == NULL)
        chapter->entries = entry;
    else
        chapter->last_entry->next = entry;
    chapter->last_entry = entry;
    return entry;
}

static struct rt_sentence *new_sentence(struct rt_document *document, const char *key)
{
    struct rt_sentence *sentence = new_part(document, sizeof *sentence);
    if (sentence == NULL)
        return NULL;
    sentence->key = own(document, key);
    sentence->template = rt_document_words(document, key);
    return sentence;
}

/* Lists of sentences are short: walking to the end keeps the structs small. */
static struct rt_sentence *append(struct rt_sentence **list, struct rt_sentence *sentence)
{
    while (*list != NULL)
        list = &(*list)->next;
    *list = sentence;
    return sentence;
}

struct rt_sentence *rt_add_lead(struct rt_document *document, struct rt_chapter *chapter, const char *key)
{
    return chapter == NULL ? NULL : append(&chapter->lead, new_sentence(document, key));
}

struct rt_sentence *rt_add_summary(struct rt_document *document, struct rt_chapter *chapter, const char *key)
{
    return chapter == NULL ? NULL : append(&chapter->summary, new_sentence(document, key));
}

struct rt_sentence *rt_add_points_lead(struct rt_document *document, struct rt_chapter *chapter,
                                       const char *key)
{
    return chapter == NULL ? NULL : append(&chapter->points_lead, new_sentence(document, key));
}

struct rt_sentence *rt_add_point(struct rt_document *document, struct rt_chapter *chapter, const char *key)
{
    return chapter == NULL ? NULL : append(&chapter->points, new_sentence(document, key));
}

struct rt_sentence *rt_add_answer(struct rt_document *document, struct rt_block *block, const char *key)
{
    return block == NULL ? NULL : append(&block->answers, new_sentence(document, key));
}

struct rt_sentence *rt_add_remark(struct rt_document *document, struct rt_block *block, const char *key)
{
    return block == NULL ? NULL : append(&block->remarks, new_sentence(document, key));
}

struct rt_sentence *rt_set_method(struct rt_document *document, struct rt_block *block, const char *key,
                                  const char *method_id)
{
    if (block == NULL)
        return NULL;
    block->method = new_sentence(document, key);
    block->method_id = own(document, method_id);
    return block->method;
}

struct rt_sentence *rt_set_caution(struct rt_document *document, struct rt_block *block, const char *key)
{
    if (block == NULL)
        return NULL;
    block->caution = new_sentence(document, key);
    return block->caution;
}

struct rt_sentence *rt_add_paragraph(struct rt_document *document, struct rt_entry *entry, const char *key)
{
    return entry == NULL ? NULL : append(&entry->paragraphs, new_sentence(document, key));
}

struct rt_sentence *rt_add_plain_paragraph(struct rt_document *document, struct rt_entry *entry,
                                           const char *text)
{
    struct rt_sentence *sentence = entry == NULL ? NULL : new_part(document, sizeof *sentence);
    if (sentence == NULL)
        return NULL;
    sentence->key = "";
    sentence->template = "{text}";
    rt_bind_words(document, sentence, "text", text);
    return append(&entry->paragraphs, sentence);
}

static void bind(struct rt_document *document, struct rt_sentence *sentence, const char *name,
                 const struct rt_figure *figure, const char *text)
{
    struct rt_slot *slot = sentence == NULL ? NULL : new_part(document, sizeof *slot);
    if (slot == NULL)
        return;
    slot->name = own(document, name);
    slot->figure = figure;
    slot->text = own(document, text);
    slot->next = sentence->slots; /* the later binding is found first */
    sentence->slots = slot;
}

void rt_bind_figure(struct rt_document *document, struct rt_sentence *sentence, const char *slot,
                    const struct rt_figure *figure)
{
    bind(document, sentence, slot, figure, "");
}

void rt_bind_words(struct rt_document *document, struct rt_sentence *sentence, const char *slot,
                   const char *text)
{
    bind(document, sentence, slot, NULL, text);
}

struct rt_table *rt_add_table(struct rt_document *document, struct rt_block *block, const char *caption_key,
                              const char *row_heading_key)
{
    struct rt_table *table = block == NULL ? NULL : new_part(document, sizeof *table);
    if (table == NULL)
        return NULL;
    table->caption = new_sentence(document, caption_key);
    table->row_heading = rt_document_words(document, row_heading_key);
    if (block->last_table == NULL)
        block->tables = table;
    else
        block->last_table->next = table;
    block->last_table = table;
    return table;
}

void rt_add_column(struct rt_document *document, struct rt_table *table, const char *heading_key,
                   enum rt_slot_part part)
{
    rt_add_named_column(document, table, rt_document_words(document, heading_key), part);
}

void rt_add_named_column(struct rt_document *document, struct rt_table *table, const char *heading,
                         enum rt_slot_part part)
{
    struct rt_column *column = table == NULL ? NULL : new_part(document, sizeof *column);
    if (column == NULL)
        return;
    column->heading = own(document, heading);
    column->part = part;
    if (table->last_column == NULL)
        table->columns = column;
    else
        table->last_column->next = column;
    table->last_column = column;
}

struct rt_table_row *rt_add_row(struct rt_document *document, struct rt_table *table, const char *label)
{
    struct rt_table_row *row = table == NULL ? NULL : new_part(document, sizeof *row);
    if (row == NULL)
        return NULL;
    row->label = own(document, label);
    if (table->last_row == NULL)
        table->rows = row;
    else
        table->last_row->next = row;
    table->last_row = row;
    table->row_count++;
    return row;
}

static void add_cell(struct rt_document *document, struct rt_table_row *row, const struct rt_figure *figure,
                     const char *text)
{
    struct rt_cell *cell = row == NULL ? NULL : new_part(document, sizeof *cell);
    if (cell == NULL)
        return;
    cell->figure = figure;
    cell->text = own(document, text);
    if (row->last_cell == NULL)
        row->cells = cell;
    else
        row->last_cell->next = cell;
    row->last_cell = cell;
}

void rt_add_figure_cell(struct rt_document *document, struct rt_table_row *row,
                        const struct rt_figure *figure)
{
    add_cell(document, row, figure, "");
}

void rt_add_text_cell(struct rt_document *document, struct rt_table_row *row, const char *text)
{
    add_cell(document, row, NULL, text);
}

void rt_set_chart(struct rt_document *document, struct rt_block *block,
                  const struct rt_chart_request *request)
{
    struct rt_chart_request *copy = block == NULL ? NULL : new_part(document, sizeof *copy);
    if (copy == NULL)
        return;
    *copy = *request;
    const char **texts[] = {&copy->id,       &copy->title,   &copy->description,    &copy->x_title,
                            &copy->y_title,  &copy->level,   &copy->baseline,       &copy->site,
                            &copy->grouping, &copy->section, &copy->reference_label};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        *texts[i] = own(document, *texts[i]);
    for (size_t i = 0; i < RT_CHART_MEASURES; i++)
        if (copy->measures[i] != NULL)
            copy->measures[i] = own(document, copy->measures[i]);
    block->chart = copy;
    document->chart_count++;
}

void rt_document_charts(const struct rt_document *document, struct rt_chart_request *requests)
{
    size_t count = 0;
    for (const struct rt_chapter *chapter = document->chapters; chapter != NULL; chapter = chapter->next)
        for (const struct rt_block *block = chapter->blocks; block != NULL; block = block->next)
            if (block->chart != NULL)
                requests[count++] = *block->chart;
}

enum rt_status rt_document_status(const struct rt_document *document, struct rt_error *error)
{
    if (document->out_of_memory)
        return rt_fail_memory(error);
    if (document->missing_wording[0] != '\0')
        return rt_fail(error, RT_USE, "there is no wording '%s' under reports/wording",
                       document->missing_wording);
    return RT_OK;
}

void rt_release_document(struct rt_document *document)
{
    rt_arena_release(&document->arena);
    rt_release_wordings(document->wordings);
    *document = (struct rt_document){0};
}
