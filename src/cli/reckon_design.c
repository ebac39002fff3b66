#include "reckon_private.h"

#include <string.h>

/* The columns one variable gives: one for a number, levels - 1 for a category. */
struct variable {
    const char *name;
    size_t width;
    const double *numbers;              /* or */
    struct rt_reckon_category category; /* column != NULL */
};

struct variables {
    struct variable *items;
    size_t count;
};

static double value_of(const struct variable *variable, size_t row, size_t which)
{
    if (variable->numbers != NULL)
        return variable->numbers[row];
    return variable->category.codes[row] == which + 1 ? 1.0 : 0.0;
}

static const char *name_of(struct rt_reckon *r, const struct variable *variable, size_t which)
{
    return variable->numbers != NULL
               ? rt_reckon_escape(r, variable->name)
               : rt_reckon_term(r, variable->name, variable->category.levels[which + 1]);
}

static const struct variable *find_variable(const struct variables *variables, const char *name)
{
    for (size_t i = 0; i < variables->count; i++)
        if (strcmp(variables->items[i].name, name) == 0)
            return &variables->items[i];
    return NULL;
}

static enum rt_status add_variables(struct rt_reckon *r, const char *option, bool categories,
                                    struct variables *variables, struct rt_error *error)
{
    size_t count = 0;
    const char *const *names = rt_reckon_words(r, option, &count, error);
    enum rt_status status = names == NULL ? RT_MEMORY : RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        if (find_variable(variables, names[i]) != NULL) {
            rt_fail(error, RT_USE, "the column '%.60s' is named twice in the model", names[i]);
            rt_error_remedy(error, "name each column once, in --numbers or in --categories");
            return RT_USE;
        }
        struct variable *variable = &variables->items[variables->count++];
        *variable = (struct variable){.name = names[i], .width = 1};
        if (categories) {
            status = rt_reckon_category_column(r, names[i], &variable->category, error);
            variable->width = variable->category.level_count > 0 ? variable->category.level_count - 1 : 0;
        } else {
            double *numbers = NULL;
            status = rt_reckon_number_column(r, names[i], &numbers, error);
            variable->numbers = numbers;
        }
    }
    return status;
}

/* The variables a product joins: "a x b", "a x b x c". */
static enum rt_status parse_product(struct rt_reckon *r, const char *text, const struct variables *variables,
                                    const struct variable **factors, size_t *count, struct rt_error *error)
{
    char *copy = rt_reckon_array(r, strlen(text) + 1, 1, error);
    if (copy == NULL)
        return RT_MEMORY;
    strcpy(copy, text);
    *count = 0;
    for (char *part = copy; part != NULL;) {
        char *next = strstr(part, " x ");
        if (next != NULL) {
            *next = '\0';
            next += 3;
        }
        const struct variable *factor = find_variable(variables, part);
        for (size_t i = 0; factor != NULL && i < *count; i++)
            factor = factors[i] == factor ? NULL : factor;
        if (factor == NULL) {
            rt_fail(error, RT_USE, "the product '%.80s' needs different columns of the model", text);
            rt_error_remedy(error,
                            "join columns named in --numbers or --categories, like \"depth x tissue\"");
            return RT_USE;
        }
        factors[(*count)++] = factor;
        part = next;
    }
    if (*count < 2) {
        rt_fail(error, RT_USE, "'%.80s' is no product", text);
        rt_error_remedy(error, "join two columns of the model, like \"depth x tissue\"");
        return RT_USE;
    }
    return RT_OK;
}

static enum rt_status grow(struct rt_reckon *r, struct rt_reckon_design *design, double ***columns,
                           size_t more, struct rt_error *error)
{
    size_t p = design->p + more;
    double **wider = rt_reckon_array(r, p, sizeof *wider, error);
    const char **terms = rt_reckon_array(r, p, sizeof *terms, error);
    size_t *product = rt_reckon_array(r, p, sizeof *product, error);
    if (wider == NULL || terms == NULL || product == NULL)
        return RT_MEMORY;
    if (design->p > 0) {
        memcpy(wider, *columns, design->p * sizeof *wider);
        memcpy(terms, design->terms, design->p * sizeof *terms);
        memcpy(product, design->product, design->p * sizeof *product);
    }
    for (size_t j = design->p; j < p; j++) {
        wider[j] = rt_reckon_array(r, design->n, sizeof **wider, error);
        if (wider[j] == NULL)
            return RT_MEMORY;
    }
    *columns = wider;
    design->terms = terms;
    design->product = product;
    return RT_OK;
}

/* Append every combination of the factors' columns, the last factor running fastest. */
static enum rt_status add_terms(struct rt_reckon *r, struct rt_reckon_design *design, double ***columns,
                                const struct variable *const *factors, size_t count, size_t product,
                                struct rt_error *error)
{
    size_t width = 1;
    for (size_t f = 0; f < count; f++)
        width *= factors[f]->width;
    if (grow(r, design, columns, width, error) != RT_OK)
        return RT_MEMORY;
    for (size_t w = 0; w < width; w++) {
        double *column = (*columns)[design->p];
        const char *name = NULL;
        for (size_t i = 0; i < design->n; i++)
            column[i] = 1.0;
        size_t block = width;
        for (size_t f = 0; f < count; f++) {
            block /= factors[f]->width;
            size_t which = w / block % factors[f]->width;
            const char *part = name_of(r, factors[f], which);
            if (name == NULL) {
                name = part;
            } else {
                size_t size = strlen(name) + strlen(part) + 4;
                char *joined = rt_reckon_array(r, size, 1, error);
                if (joined == NULL)
                    return RT_MEMORY;
                snprintf(joined, size, "%s x %s", name, part);
                name = joined;
            }
            for (size_t i = 0; i < design->n; i++)
                column[i] *= value_of(factors[f], i, which);
        }
        design->terms[design->p] = name;
        design->product[design->p++] = product;
    }
    return RT_OK;
}

static enum rt_status add_products(struct rt_reckon *r, struct rt_reckon_design *design, double ***columns,
                                   const struct variables *variables, struct rt_error *error)
{
    size_t count = 0;
    const char *const *products = rt_reckon_words(r, "--products", &count, error);
    const struct variable **factors = rt_reckon_array(r, variables->count + 1, sizeof *factors, error);
    enum rt_status status = products == NULL || factors == NULL ? RT_MEMORY : RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        size_t factor_count = 0;
        status = parse_product(r, products[i], variables, factors, &factor_count, error);
        if (status == RT_OK)
            status = add_terms(r, design, columns, factors, factor_count, i + 1, error);
    }
    return status;
}

/* Columns side by side, row after row. */
static enum rt_status interleave(struct rt_reckon *r, struct rt_reckon_design *design, double *const *columns,
                                 struct rt_error *error)
{
    design->x = rt_reckon_array(r, design->n * design->p, sizeof *design->x, error);
    if (design->x == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < design->n; i++)
        for (size_t j = 0; j < design->p; j++)
            design->x[i * design->p + j] = columns[j][i];
    return RT_OK;
}

enum rt_status rt_reckon_design(struct rt_reckon *r, bool intercept, struct rt_reckon_design *design,
                                struct rt_error *error)
{
    size_t numbers = 0;
    size_t categories = 0;
    *design = (struct rt_reckon_design){.n = r->n};
    if (rt_reckon_words(r, "--numbers", &numbers, error) == NULL ||
        rt_reckon_words(r, "--categories", &categories, error) == NULL)
        return RT_MEMORY;
    struct variables variables = {rt_reckon_array(r, numbers + categories, sizeof(struct variable), error),
                                  0};
    double **columns = NULL;
    enum rt_status status = variables.items == NULL ? RT_MEMORY : RT_OK;
    if (status == RT_OK && intercept) {
        status = add_terms(r, design, &columns, NULL, 0, 0, error);
        if (status == RT_OK)
            design->terms[0] = "intercept";
    }
    if (status == RT_OK)
        status = add_variables(r, "--numbers", false, &variables, error);
    if (status == RT_OK)
        status = add_variables(r, "--categories", true, &variables, error);
    for (size_t i = 0; status == RT_OK && i < variables.count; i++) {
        const struct variable *one = &variables.items[i];
        status = add_terms(r, design, &columns, &one, 1, 0, error);
    }
    if (status == RT_OK)
        status = add_products(r, design, &columns, &variables, error);
    return status == RT_OK ? interleave(r, design, columns, error) : status;
}
