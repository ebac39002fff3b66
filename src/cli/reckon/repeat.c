#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/repeat.h"

static const struct rt_reckon_option options[] = {
    {"--subject", RT_OPTION_CATEGORY_COLUMN, true, NULL, "what was read", NULL},
    {"--reader", RT_OPTION_CATEGORY_COLUMN, true, NULL, "who read it, or the number of the reading", NULL},
    {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "the reading", NULL},
    RT_RECKON_END};

static const char notes[] = "Intraclass correlations of Shrout & Fleiss (1979) with limits from F (McGraw & "
                            "Wong 1996). Models 2 and 3 need every\n"
                            "reader to have read every subject once; model 1 takes unequal numbers (k0 = (n "
                            "- sum m^2/n)/(subjects - 1)) with\n"
                            "approximate limits. within_sd = root of the mean square within subjects, limits "
                            "by chi-square; dahlberg =\n"
                            "sqrt(sum d^2/(2 pairs)), for subjects read twice; detectable_change = 1.96 "
                            "sqrt(2) within_sd; reader_sd = root of\n"
                            "(reader mean square - error mean square)/subjects, at least 0.\n";

static void write(struct rt_reckon *r, const struct rt_repeat *result)
{
    static const char *const names[RT_ICC_FORMS] = {"icc_1_1", "icc_2_1", "icc_3_1",
                                                    "icc_1_k", "icc_2_k", "icc_3_k"};
    const struct rt_estimate *within = &result->within_sd;
    for (int form = 0; form < RT_ICC_FORMS; form++)
        rt_reckon_interval(r, names[form], NULL, &result->icc[form]);
    rt_reckon_row(r, "dahlberg", NULL, NAN, result->dahlberg, result->no_dahlberg);
    rt_reckon_interval(r, "within_sd", NULL, within);
    rt_reckon_row(r, "detectable_change", NULL, NAN, result->detectable_change, within->reason);
    rt_reckon_row(r, "reader_sd", NULL, NAN, result->reader_sd, result->icc[RT_ICC_2_1].reason);
    static const char *const parts[RT_MEAN_SQUARES] = {"subjects", "within", "readers", "residual"};
    for (int k = 0; k < RT_MEAN_SQUARES; k++)
        rt_reckon_row(r, "mean_square", parts[k], NAN, result->mean_square[k],
                      result->icc[k < RT_BETWEEN_READERS ? RT_ICC_1_1 : RT_ICC_2_1].reason);
    rt_reckon_row(r, "readings_per_subject", NULL, NAN, result->readings_per_subject,
                  result->icc[RT_ICC_1_1].reason);
    rt_reckon_row(r, "subjects", NULL, NAN, (double)result->subjects, NULL);
    rt_reckon_row(r, "readers", NULL, NAN, (double)result->readers, NULL);
    rt_reckon_row(r, "n", NULL, NAN, (double)result->n, NULL);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_category subject;
    struct rt_reckon_category reader;
    double *value = NULL;
    struct rt_repeat result;
    enum rt_status status = rt_reckon_category(r, "--subject", &subject, error);
    if (status == RT_OK)
        status = rt_reckon_category(r, "--reader", &reader, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--value", &value, error);
    if (status == RT_OK)
        status = rt_repeat(subject.codes, subject.level_count, reader.codes, reader.level_count, value, r->n,
                           NULL, &result, error);
    if (status == RT_OK)
        write(r, &result);
    return status;
}

const struct rt_reckon_method rt_reckon_repeat = {
    "repeat",
    "repeatability of readings: intraclass correlations and the error of one reading",
    "icc_1_1 icc_2_1 icc_3_1 icc_1_k icc_2_k icc_3_k, each with _lower and _upper; dahlberg; within_sd with "
    "_lower and\n"
    "_upper; detectable_change reader_sd readings_per_subject subjects readers n; mean_square (group "
    "subjects, within, readers, "
    "residual)",
    notes,
    options,
    run};
