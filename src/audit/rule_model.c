/* The confounders of a rule as columns of a model, over the rows in which all of them are recorded. */
#include "rules_private.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_COLUMNS = 16 };

/* A confounder that is a number is NaN, one that is a code is below 0, where it is not recorded. */
static double number_of(int confounder, const struct rt_audit_implant *implant)
{
    switch (1u << confounder) {
    case RT_CONFOUNDER_TISSUE:
        return implant->tissue_mm;
    case RT_CONFOUNDER_DIAMETER:
        return implant->diameter_mm;
    case RT_CONFOUNDER_LENGTH:
        return implant->length_mm;
    default:
        return NAN;
    }
}

static int class_of(const struct rt_density *density, bool lz)
{
    return density->of > 0 && density->lz == lz ? density->of - 1 : -1;
}

static int code_of(const struct rule_task *task, int confounder, const struct rt_audit_implant *implant)
{
    switch (1u << confounder) {
    case RT_CONFOUNDER_SMOKING:
        return implant->smoking;
    case RT_CONFOUNDER_DENSITY_PLANNED:
        return class_of(&implant->planned, task->lz_planned);
    case RT_CONFOUNDER_DENSITY_FOUND:
        return class_of(&implant->found, task->lz_found);
    case RT_CONFOUNDER_PERIODONTITIS:
        return implant->periodontitis;
    case RT_CONFOUNDER_DIABETES:
        return implant->diabetes;
    case RT_CONFOUNDER_GRAFT:
        return implant->graft;
    default:
        return -1;
    }
}

static bool is_number(int confounder)
{
    return ((RT_CONFOUNDER_TISSUE | RT_CONFOUNDER_DIAMETER | RT_CONFOUNDER_LENGTH) & (1u << confounder)) != 0;
}

static bool is_known(const struct rule_task *task, int confounder, const struct rt_audit_implant *implant)
{
    return is_number(confounder) ? !isnan(number_of(confounder, implant))
                                 : code_of(task, confounder, implant) >= 0;
}

/* A confounder that fewer than half of the rows record would cost more than it gives: it is dropped, and said to be. */
static void choose(struct rule_model *model, const struct rule_task *task)
{
    for (int c = 0; c < RT_CONFOUNDERS; c++) {
        size_t known = 0;
        if ((task->rule->confounders & (1u << c)) == 0)
            continue;
        for (size_t i = 0; i < task->sample->n; i++)
            known += is_known(task, c, &task->cohort->implants[task->sample->implant[i]]);
        if (2 * known >= task->sample->n)
            model->used |= 1u << c;
        else
            model->dropped |= 1u << c;
    }
}

static bool is_complete(const struct rule_model *model, const struct rule_task *task, size_t row)
{
    for (int c = 0; c < RT_CONFOUNDERS; c++)
        if ((model->used & (1u << c)) != 0 &&
            !is_known(task, c, &task->cohort->implants[task->sample->implant[row]]))
            return false;
    return true;
}

/* Columns in the making: the caller's, then one array for each confounder. */
struct columns {
    struct rt_number_column numbers[MOST_COLUMNS];
    size_t number_count;
    struct rt_category_column categories[RT_CONFOUNDERS];
    size_t category_count;
    double *number_values[MOST_COLUMNS];
    size_t *codes[RT_CONFOUNDERS];
};

/* Level names of the coded confounders, in the order of their codes. */
static void name_levels(struct rt_category_column *column, int confounder, const struct rule_task *task)
{
    static const char *const smoking[] = {"never", "former", "current"};
    static const char *const diabetes[] = {"none", "controlled", "uncontrolled"};
    static const char *const yes_no[] = {"no", "yes"};
    static const char *const classes[2][4] = {{"D1", "D2", "D3", "D4"}, {"LZ1", "LZ2", "LZ3", "LZ4"}};
    const unsigned bit = 1u << confounder;
    column->name = rt_confounder_name(confounder);
    column->levels = yes_no;
    column->level_count = 2;
    if (bit == RT_CONFOUNDER_SMOKING || bit == RT_CONFOUNDER_DIABETES) {
        column->levels = bit == RT_CONFOUNDER_SMOKING ? smoking : diabetes;
        column->level_count = 3;
    } else if (bit == RT_CONFOUNDER_DENSITY_PLANNED || bit == RT_CONFOUNDER_DENSITY_FOUND) {
        column->levels = classes[bit == RT_CONFOUNDER_DENSITY_PLANNED ? task->lz_planned : task->lz_found];
        column->level_count = 4;
    }
}

/* The complete rows: response, patient, group, and which row of the sample each is. */
static enum rt_status take_rows(struct rule_model *model, const struct rule_task *task, size_t *row_of,
                                struct rt_error *error)
{
    const struct rt_sample *sample = task->sample;
    size_t last = (size_t)-1;
    model->y = rt_new_array(sample->n + 1, sizeof *model->y);
    model->capped = rt_new_array(sample->n + 1, sizeof *model->capped);
    model->cluster = rt_new_array(sample->n + 1, sizeof *model->cluster);
    model->followed = rt_new_array(sample->n + 1, sizeof *model->followed);
    if (model->y == NULL || model->capped == NULL || model->cluster == NULL || model->followed == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < sample->n; i++) {
        if (!is_complete(model, task, i)) {
            model->left_out++;
            continue;
        }
        model->clusters += sample->cluster[i] != last;
        last = sample->cluster[i];
        row_of[model->n] = i;
        model->y[model->n] = sample->value[i];
        model->capped[model->n] = sample->capped[i];
        model->followed[model->n] = sample->code[i] == 1;
        model->cluster[model->n++] = model->clusters - 1;
    }
    return RT_OK;
}

static enum rt_status add_number(struct columns *columns, const struct rule_model *model, const char *name,
                                 double **values, struct rt_error *error)
{
    *values = rt_new_array(model->n + 1, sizeof **values);
    if (*values == NULL)
        return rt_fail_memory(error);
    columns->number_values[columns->number_count] = *values;
    columns->numbers[columns->number_count++] = (struct rt_number_column){name, *values};
    return RT_OK;
}

static enum rt_status add_confounder(struct columns *columns, const struct rule_model *model,
                                     const struct rule_task *task, const size_t *row_of, int confounder,
                                     struct rt_error *error)
{
    double *values = NULL;
    if (is_number(confounder)) {
        enum rt_status status = add_number(columns, model, rt_confounder_name(confounder), &values, error);
        for (size_t i = 0; status == RT_OK && i < model->n; i++)
            values[i] = number_of(confounder, &task->cohort->implants[task->sample->implant[row_of[i]]]);
        return status;
    }
    size_t *codes = rt_new_array(model->n + 1, sizeof *codes);
    if (codes == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < model->n; i++)
        codes[i] =
            (size_t)code_of(task, confounder, &task->cohort->implants[task->sample->implant[row_of[i]]]);
    struct rt_category_column *column = &columns->categories[columns->category_count];
    name_levels(column, confounder, task);
    column->codes = columns->codes[columns->category_count++] = codes;
    return RT_OK;
}

static enum rt_status build(struct rule_model *model, const struct rule_task *task,
                            const struct rt_number_column *own, size_t count, size_t *row_of,
                            struct columns *columns, struct rt_error *error)
{
    enum rt_status status = take_rows(model, task, row_of, error);
    for (size_t c = 0; c < count && status == RT_OK; c++) {
        double *values = NULL;
        status = add_number(columns, model, own[c].name, &values, error);
        for (size_t i = 0; status == RT_OK && i < model->n; i++)
            values[i] = own[c].values[row_of[i]];
    }
    for (int c = 0; c < RT_CONFOUNDERS && status == RT_OK; c++)
        if ((model->used & (1u << c)) != 0)
            status = add_confounder(columns, model, task, row_of, c, error);
    const struct rt_design_columns all = {.n = model->n,
                                          .numbers = columns->numbers,
                                          .number_count = columns->number_count,
                                          .categories = columns->categories,
                                          .category_count = columns->category_count};
    return status == RT_OK ? rt_design_build(&model->design, &all, error) : status;
}

enum rt_status rule_model_build(struct rule_model *model, const struct rule_task *task,
                                const struct rt_number_column *columns, size_t count, struct rt_error *error)
{
    struct columns made = {.number_count = 0};
    *model = (struct rule_model){.n = 0};
    size_t *row_of = rt_new_array(task->sample->n + 1, sizeof *row_of);
    choose(model, task);
    enum rt_status status =
        row_of == NULL ? rt_fail_memory(error) : build(model, task, columns, count, row_of, &made, error);
    for (size_t i = 0; i < made.number_count; i++)
        free(made.number_values[i]);
    for (size_t i = 0; i < made.category_count; i++)
        free(made.codes[i]);
    free(row_of);
    return status;
}

void rule_model_release(struct rule_model *model)
{
    rt_design_release(&model->design);
    free(model->y);
    free(model->capped);
    free(model->cluster);
    free(model->followed);
    *model = (struct rule_model){.n = 0};
}

/* `tissue height, smoking` */
static void list_confounders(unsigned bits, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (int c = 0; c < RT_CONFOUNDERS && used < size; c++)
        if ((bits & (1u << c)) != 0)
            used += (size_t)snprintf(text + used, size - used, "%s%s", used > 0 ? ", " : "",
                                     rt_confounder_words(c));
}

void rule_model_words(const struct rule_model *model, char *text, size_t size)
{
    char used[160], dropped[160], left_out[64] = "";
    list_confounders(model->used, used, sizeof used);
    list_confounders(model->dropped, dropped, sizeof dropped);
    if (model->left_out > 0)
        snprintf(left_out, sizeof left_out, "; %zu left out for a fact not recorded", model->left_out);
    snprintf(text, size, "%s%s%s%s%s", used[0] == '\0' ? "nothing held equal" : "held equal: ", used,
             dropped[0] == '\0' ? "" : "; too seldom recorded: ", dropped, left_out);
}

size_t rule_model_patients(const struct rule_model *model, bool followed)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < model->n; i++) {
        if (model->followed[i] != followed || model->cluster[i] == last)
            continue;
        patients++;
        last = model->cluster[i];
    }
    return patients;
}
