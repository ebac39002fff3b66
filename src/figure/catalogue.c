#include "ridgetally/figure/catalogue.h"

#include <string.h>

/* clang-format off */
static const struct rt_measure measures[] = {
/* --- flow ---------------------------------------------------------------------------------------------- */
{"flow", "comparisons", "comparisons screened", "comparisons", 0, "", "flow", "count",
 "Rows with a p-value: what was looked at before anything stood out.", "ours"},
{"flow", "recorded", "implants recorded", "implants", 0, "", "flow", "count",
 "Implants in the store placed on or before the last day of the period; by window, those placed in it.", "ours"},
{"flow", "excluded", "left out", "implants", 0, "", "flow", "count",
 "By reason. Of those recorded: `contradiction` (an open contradiction in the records bars the implant from survival) and "
 "`not under observation` (placed before the day from which the practice's records are complete, and not seen before it left). "
 "Beside those recorded: `no placement date` and `placed after the period`. With a section part: left out of that section.", "ours"},
{"flow", "analysed", "analysed for survival", "implants", 0, "", "flow", "count",
 "Recorded minus those left out for a contradiction or for not being under observation.", "ours"},
{"flow", "followed", "seen at least once since", "implants", 0, "", "flow", "count",
 "Analysed implants with a follow-up row after the day of placement.", "ours"},
{"flow", "status", "how things stand at the end of the period", "implants", 0, "", "flow", "count",
 "Each analysed implant is one of: `in place` (no event; seen within the recall interval before the cut, or placed "
 "within it), `lost` (no event and no sighting in that span), `removed` (removed or exfoliated), `elective` (removed "
 "by choice), `died`, `moved away`. The levels add up to analysed.", "ours"},
{"flow", "completeness", "status known, by year of placement", "share", 0, "", "flow", "share_korn_graubard",
 "Share of the analysed implants placed in that year that are not lost at the cut.", "ours"},
{"flow", "follow_up_index", "follow-up time seen of follow-up time possible", "share", 0, "", "flow", "follow_up_index",
 "Sum of the time observed divided by the sum of the time that could have been observed to the cut; an implant that "
 "was removed, or whose patient died, could be observed to that day only.",
 "Clark, Altman, De Stavola 2002, Lancet 359:1309-1310"},
{"flow", "median_follow_up", "median follow-up", "months", 1, "", "flow", "reverse_kaplan_meier",
 "Median of the Kaplan-Meier curve in which the end of observation is the event and failure, elective removal or "
 "death censors.", "Schemper, Smith 1996, Controlled Clinical Trials 17:343-346"},
{"flow", "read_share", "film read at both ends", "share", 0, "months", "flow", "share_korn_graubard",
 "Share of the implants due in a window (crest_flow) whose levels are readable on both sites at baseline and in the window.",
 "ours"},
{"flow", "field_recorded", "field filled in", "share", 0, "", "flow", "count_share",
 "Share of recorded implants in the window whose field is filled in.", "ours"},

/* --- depth --------------------------------------------------------------------------------------------- */
{"depth", "depth_bias", "achieved minus planned depth, mean", "mm", 2, "", "depth error", "mean_cr2",
 "Mean of achieved minus planned depth below the crest; positive = deeper than planned. Unit of analysis patient: "
 "mean of the patients' means.", "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"depth", "depth_sd", "achieved minus planned depth, standard deviation", "mm", 2, "", "depth error", "limits_clustered",
 "Standard deviation of a single difference: the root of the variance between patients plus that within patients.",
 "Bland, Altman 1999, Statistical Methods in Medical Research 8:135-160"},
{"depth", "depth_limit_lower", "lower limit of agreement", "mm", 2, "", "depth error", "limits_clustered",
 "Mean difference minus 1.96 standard deviations of a single difference.", "Bland, Altman 1986, Lancet 327:307-310"},
{"depth", "depth_limit_upper", "upper limit of agreement", "mm", 2, "", "depth error", "limits_clustered",
 "Mean difference plus 1.96 standard deviations of a single difference.", "Bland, Altman 1986, Lancet 327:307-310"},
{"depth", "depth_mean_absolute", "distance from plan, mean", "mm", 2, "", "depth error", "mean_cr2",
 "Mean of the absolute difference between achieved and planned depth.", "ours"},
{"depth", "depth_within_half", "within 0.5 mm of plan", "share", 0, "", "depth error", "share_korn_graubard",
 "Share with an absolute difference of at most 0.50 mm, compared in integer hundredths. Unit of analysis patient: mean of the "
 "patients' shares.",
 "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"depth", "depth_operator_difference", "operator minus all others, mean depth error", "mm", 2, "", "depth error",
 "difference_cr2", "Mean of achieved minus planned depth of the operator minus that of all other operators.",
 "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},

/* --- stability ----------------------------------------------------------------------------------------- */
{"stability", "torque_recorded", "final torque recorded", "implants", 0, "", "torque", "count",
 "Implants with a final torque; n_due = placed in the window.", "ours"},
{"stability", "torque_capped", "torque recorded as a limit reached", "implants", 0, "", "torque", "count",
 "Final torques recorded as `more than`: the motor's or wrench's cap was reached.", "ours"},
{"stability", "torque_quartile_lower", "final torque, lower quartile", "Ncm", 0, "", "torque", "quantile_censored",
 "Torque that a quarter of the implants do not exceed, from the Kaplan-Meier curve on torque (caps censored).",
 "Woodruff 1952, JASA 47:635-646; Kaplan, Meier 1958, JASA 53:457-481"},
{"stability", "torque_median", "final torque, median", "Ncm", 0, "", "torque", "quantile_censored",
 "Median from the Kaplan-Meier curve on torque (caps censored); empty with the remark `>cap` where it is not reached.",
 "Woodruff 1952, JASA 47:635-646; Kaplan, Meier 1958, JASA 53:457-481"},
{"stability", "torque_quartile_upper", "final torque, upper quartile", "Ncm", 0, "", "torque", "quantile_censored",
 "Torque that a quarter of the implants exceed, from the Kaplan-Meier curve on torque (caps censored).",
 "Woodruff 1952, JASA 47:635-646; Kaplan, Meier 1958, JASA 53:457-481"},
{"stability", "torque_density_spearman", "torque and found density, Spearman", "", 2, "", "torque", "rank_jackknife",
 "Rank correlation of final torque with the class number (1 = densest): negative = the denser, the higher the torque. "
 "Pair scores; pairs a cap leaves open count 0.", "Kendall 1962, Rank Correlation Methods; ours for caps"},
{"stability", "torque_density_tau_b", "torque and found density, tau-b", "", 2, "", "torque", "rank_jackknife",
 "Concordant minus discordant pairs over the root of the product of untied pairs; pairs a cap leaves open count 0.",
 "Kendall 1945, Biometrika 33:239-251; ours for caps"},
{"stability", "torque_density_trend", "torque falls with softer density, ordered trend", "", 2, "", "torque",
 "trend_jackknife",
 "Jonckheere's count over pairs of classes, here as the share of pairs from different classes in which the softer bone "
 "has the lower torque, minus the share in which it has the higher: +1 every pair, 0 no trend.",
 "Jonckheere 1954, Biometrika 41:133-145"},
{"stability", "density_kappa", "planned and found density, weighted kappa", "", 2, "", "density", "kappa_linear",
 "1 minus observed over expected disagreement, weights |i - j| (linear).", "Cohen 1968, Psychological Bulletin 70:213-220"},
{"stability", "density_kappa_quadratic", "planned and found density, kappa with quadratic weights", "", 2, "", "density",
 "kappa_quadratic", "As density_kappa with weights (i - j) squared.",
 "Fleiss, Cohen 1973, Educational and Psychological Measurement 33:613-619"},
{"stability", "density_same", "found as planned", "share", 0, "", "density", "share_korn_graubard",
 "Share of implants whose found density is the planned one.", "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"stability", "torque_diameter_spearman", "torque and diameter, Spearman", "", 2, "", "torque", "rank_jackknife",
 "Rank correlation of final torque with implant diameter.", "Kendall 1962, Rank Correlation Methods; ours for caps"},
{"stability", "torque_diameter_tau_b", "torque and diameter, tau-b", "", 2, "", "torque", "rank_jackknife",
 "Kendall's tau-b of final torque with implant diameter.", "Kendall 1945, Biometrika 33:239-251; ours for caps"},
{"stability", "torque_length_spearman", "torque and length, Spearman", "", 2, "", "torque", "rank_jackknife",
 "Rank correlation of final torque with implant length.", "Kendall 1962, Rank Correlation Methods; ours for caps"},
{"stability", "torque_length_tau_b", "torque and length, tau-b", "", 2, "", "torque", "rank_jackknife",
 "Kendall's tau-b of final torque with implant length.", "Kendall 1945, Biometrika 33:239-251; ours for caps"},
{"stability", "low_torque", "final torque under the lowest cut", "share", 0, "", "torque", "share_korn_graubard",
 "Share of implants with a final torque below the lowest torque cut (20 Ncm unless the practice set another); a capped "
 "torque counts as not low when its cap reaches that cut.", "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"stability", "low_torque_outcome", "what became of low-torque implants", "implants", 0, "", "torque", "count",
 "Implants below the lowest torque cut by outcome at the cut: `in place`, `removed within 180 days`, `removed later`, "
 "`elective`, `died`, `moved away`, `lost`.", "ours"},
{"stability", "stalled", "stalled before full depth", "implants", 0, "", "torque", "count",
 "Implants recorded as stalled; n_due = placed in the window.", "ours"},
{"stability", "torque_slope_cases", "usable for the torque per millimetre", "implants", 0, "", "torque", "count",
 "By status: `usable` (stalled with stall height, stall torque, achieved depth and final torque), `never stalled`, "
 "`stall not recorded`, `no final torque`, `other field missing`.", "ours"},
{"stability", "torque_per_mm", "torque gained per millimetre after a stall", "Ncm/mm", 1, "", "torque", "linear_cr2",
 "Slope of gain (final minus stall torque) on travel (stall height plus achieved depth), with intercept; uncapped "
 "finals.", "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"stability", "torque_per_mm_origin", "the same through the origin", "Ncm/mm", 1, "", "torque", "linear_cr2",
 "Slope of gain on travel without intercept: no travel, no gain.", "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"stability", "torque_per_mm_censored", "the same with capped torques", "Ncm/mm", 1, "", "torque", "limited_cluster",
 "Slope from a normal model in which capped finals are right-censored, with intercept.",
 "Tobin 1958, Econometrica 26:24-36"},

/* --- crest --------------------------------------------------------------------------------------------- */
{"crest", "crest_flow", "films due", "implants", 0, "months", "crest change", "count",
 "Implants whose window closed, by status: `due` = `read` + `unread` + `lost` + `removed or died first`. Read: both "
 "levels readable at baseline and in the window.", "ours"},
{"crest", "crest_change", "crest change", "mm", 2, "months", "crest change", "mean_cr2",
 "Level in the window minus level at baseline; negative = crest lost. Mean of both sites (one missing = missing), or "
 "the worse site (the lower of the two changes).", "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"crest", "exposure_share", "worse site exposed more than 0.5 mm", "share", 0, "months", "exposure",
 "share_korn_graubard",
 "Share of implants whose worse site shows more than 0.50 mm of implant: exposure = max(0, -level). Unit of analysis patient: "
 "mean of the patients' shares.",
 "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"crest", "exposure_median", "exposure, median", "mm", 2, "months", "exposure", "quantile_woodruff",
 "Median of max(0, -level): per site, mean of both sites, worse site.", "Woodruff 1952, JASA 47:635-646"},
{"crest", "crest_model", "crest change model, coefficient", "mm", 2, "months", "crest change", "reml",
 "Crest change at 12 months (mean of both sites) on depth, tissue, their product (depth and tissue centred), smoking and "
 "found density, with a random intercept for the patient; one row per implant.",
 "Patterson, Thompson 1971, Biometrika 58:545-554; Satterthwaite 1946, Biometrics Bulletin 2:110-114"},
{"crest", "crest_model_cr2", "the same by least squares", "mm", 2, "months", "crest change by least squares", "linear_cr2",
 "The same terms by least squares with the error clustered by patient.",
 "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"crest", "crest_model_icc", "likeness within patients", "", 2, "months", "crest change", "reml",
 "Share of the variance that is between patients in the crest change model.", "Patterson, Thompson 1971, Biometrika 58:545-554"},
{"crest", "crest_model_sd_between", "spread between patients", "mm", 2, "months", "crest change", "reml",
 "Standard deviation of the patient intercepts.", "Patterson, Thompson 1971, Biometrika 58:545-554"},
{"crest", "crest_model_sd_within", "spread within patients", "mm", 2, "months", "crest change", "reml",
 "Standard deviation of implants within a patient.", "Patterson, Thompson 1971, Biometrika 58:545-554"},
{"crest", "crest_model_centre", "value the model is centred at", "mm", 2, "months", "crest change", "count",
 "Mean depth and mean tissue height of the implants in the model, by term.", "ours"},
{"crest", "level_model", "level model, coefficient", "mm", 2, "months", "crest level", "reml",
 "Level at 12 months (not its change) on the same terms. No effect of depth on what the crest does is a slope of 1 here; p "
 "of the depth term is against 1. Where depth was read from films, or its source is unknown, the depth slope is divided by "
 "the reliability of the practice's depth readings.",
 "Patterson, Thompson 1971, Biometrika 58:545-554; Fuller 1987, Measurement Error Models; rule ours"},
{"crest", "depth_reliability", "reliability of the depth reading", "", 2, "months", "crest level", "reliability",
 "1 minus the error variance of repeated readings of the baseline film over the variance of depth left after the other "
 "terms of the model.", "Fuller 1987, Measurement Error Models"},
{"crest", "depth_verdict", "what the two models say of depth", "", 0, "months", "crest level", "verdict",
 "value -1: deeper implants lose more crest (the interval of the depth slope lies below no effect); 1: less; 0: cannot be told. "
 "Where depth was read from films the change model and the level model must agree, else `cannot tell`.", "ours"},
{"crest", "crest_dose_response", "crest change by depth, curve", "mm", 2, "mm", "crest change", "spline_cr2",
 "Restricted cubic spline of crest change at 12 months (mean of both sites) on achieved depth, over all records, with its "
 "pointwise 95% band; at = depth, over the middle nine tenths of the depths. Depths measured at surgery, or the others, whichever "
 "are more: the two are not pooled.", "Durrleman, Simon 1989, Statistics in Medicine 8:551-561"},

/* --- survival ------------------------------------------------------------------------------------------ */
{"survival", "survival_curve", "implants still in place, curve", "share", 1, "years", "survival", "kaplan_meier_robust",
 "Kaplan-Meier estimate at each time of a failure, at the start and at the last time observed; n_patients = patients at "
 "risk just before.", "Kaplan, Meier 1958, JASA 53:457-481; Therneau, Grambsch 2000, Modeling Survival Data"},
{"survival", "survival", "implants still in place", "share", 1, "years", "survival", "kaplan_meier_robust",
 "Kaplan-Meier estimate at whole years; n_implants and n_patients are those still at risk, n_events the failures so far. "
 "Unit of analysis patient: patients with no failure since their first implant.",
 "Kaplan, Meier 1958, JASA 53:457-481; Therneau, Grambsch 2000, Modeling Survival Data"},
{"survival", "at_risk", "implants at risk", "implants", 0, "years", "survival", "count",
 "Implants under observation and in place at that time after placement.", "ours"},
{"survival", "survival_comparison", "comparison of the curves", "", 2, "", "survival", "logrank_robust",
 "Score test over the levels of one grouping, with the variance clustered by patient; value = chi-square.",
 "Lin, Wei 1989, JASA 84:1074-1078"},
{"survival", "hazard_ratio", "failure rate against the reference level", "ratio", 2, "", "hazard ratio", "cox_robust",
 "Hazard of failure in the level over that in the first level of the grouping with 10 patients (the reference, named in the "
 "remark), unadjusted. With fewer than 10 patients with failures per ratio: penalised likelihood.",
 "Cox 1972, JRSS B 34:187-220"},
{"survival", "proportional_hazards", "are the ratios steady over time", "", 2, "", "proportional hazards", "schoenfeld",
 "Test of a change of the hazard ratios with time, by grouping; a small p says that one ratio does not describe them.",
 "Grambsch, Therneau 1994, Biometrika 81:515-526"},
{"survival", "life_table_entering", "entering the year", "implants", 0, "years", "survival", "life_table",
 "Implants under observation at the start of the year since placement; at = start.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "life_table_withdrawn", "leaving observation in the year", "implants", 0, "years", "survival", "life_table",
 "Implants whose observation ended in the year without failure.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "life_table_failed", "failing in the year", "implants", 0, "years", "survival", "life_table",
 "Failures in the year.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "life_table_exposed", "exposed in the year", "implants", 1, "years", "survival", "life_table",
 "Entering minus half of those leaving.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "life_table_interval", "surviving the year", "share", 1, "years", "survival", "life_table",
 "1 minus failed over exposed.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "life_table_cumulative", "surviving to the end of the year", "share", 1, "years", "survival", "life_table",
 "Product of the yearly survivals; at = start of the year whose end it is.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"survival", "incidence", "cumulative incidence", "share", 1, "years", "survival", "aalen_johansen",
 "Share with that cause first, by cause: failure, elective, death. Nobody is assumed to outlive their death.",
 "Aalen, Johansen 1978, Scandinavian Journal of Statistics 5:141-150"},
{"survival", "early_failure", "failed within 180 days", "share", 1, "", "early failure", "share_korn_graubard",
 "Failures within 180 days of placement among implants placed at least 180 days before the cut whose state at 180 days is "
 "known; n_due = all placed that long ago. Unit of analysis patient: patients with any.",
 "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"survival", "early_failure_bound", "failed within 180 days, bounds for the unknown", "share", 1, "", "early failure",
 "bounds", "By bound: `best case` no implant of unknown state failed, `worst case` every one did.", "ours"},
{"survival", "failure_before_loading", "failed before loading, cumulative incidence", "share", 1, "years", "early failure",
 "aalen_johansen",
 "Cumulative incidence of failure with loading as the competing event; implants with no loading date count as not yet "
 "loaded only where `loaded` says no; n_due = all analysed.",
 "Aalen, Johansen 1978, Scandinavian Journal of Statistics 5:141-150"},
{"survival", "failure_rate", "failures per 100 implant-years", "per 100 implant-years", 2, "", "survival", "rate_clustered",
 "Failures in the window over the time at risk in it; n_implants = at risk at any time in it. Follow-up ends at the last "
 "sighting; with a censoring part `recall` at the cut or the recall interval after it.",
 "Cochran 1977, Sampling Techniques (ratio estimator)"},
{"survival", "discovery_gap", "gap before a failure was found", "days", 0, "", "survival", "quantile_woodruff",
 "Median of the days between the last sighting (or placement) and the date of failure: the dates are dates of discovery.",
 "Woodruff 1952, JASA 47:635-646"},
};

static const struct rt_method methods[] = {
{"count", "counted", "A count; no interval.", "ours"},
{"count_share", "counted", "A share of records, not of an outcome; no interval.", "ours"},
{"mean_cr2", "mean, clustered by patient",
 "Mean with a bias-reduced sandwich variance clustered by patient (CR2) and t limits on Satterthwaite degrees of freedom.",
 "Bell, McCaffrey 2002, Survey Methodology 28:169-181; Pustejovsky, Tipton 2018, JBES 36:672-683"},
{"patient_mean", "mean of patients' means", "Each patient's mean counts once; t limits on patients - 1.", "ours"},
{"patient_share", "mean of patients' shares",
 "Each patient's share counts once; exact binomial limits at the size of sample that has this variance.",
 "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"difference_cr2", "difference of means, clustered by patient",
 "Regression on one indicator, bias-reduced sandwich variance clustered by patient (CR2), Satterthwaite degrees of freedom.",
 "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"linear_cr2", "least squares, clustered by patient",
 "Least squares with a bias-reduced sandwich variance clustered by patient (CR2), Satterthwaite degrees of freedom.",
 "Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"limited_cluster", "censored normal model, clustered by patient",
 "Maximum likelihood of a normal model with right-censored caps; error from leaving out one patient at a time (in one step of "
 "the likelihood), t limits on patients - 1.",
 "Tobin 1958, Econometrica 26:24-36; Lipsitz, Dear, Zhao 1994, Biometrics 50:842-846"},
{"spline_cr2", "spline, clustered by patient",
 "Restricted cubic spline by least squares, pointwise band from the variance clustered by patient (CR2).",
 "Durrleman, Simon 1989, Statistics in Medicine 8:551-561; Bell, McCaffrey 2002, Survey Methodology 28:169-181"},
{"limits_clustered", "limits of agreement, clustered by patient",
 "Bias and 1.96 standard deviations of a single difference (between and within patients); each interval joins those of the bias "
 "(CR2 by patient) and of the standard deviation (leaving out one patient at a time).",
 "Bland, Altman 1999, Statistical Methods in Medical Research 8:135-160; Zou 2013, ibidem 22:630-642"},
{"share_korn_graubard", "share, clustered by patient",
 "Exact binomial limits at the effective number of implants after clustering by patient.",
 "Korn, Graubard 1998, Survey Methodology 24:193-201"},
{"exact_conservative", "exact, patients counted (conservative)",
 "No event, or every one: exact binomial limits with n = the number of patients.", "Clopper, Pearson 1934, Biometrika 26:404-413"},
{"quantile_woodruff", "quantile, clustered by patient",
 "Quantile with limits by inverting the clustered interval of the distribution function, t on patients - 1.",
 "Woodruff 1952, JASA 47:635-646"},
{"quantile_censored", "quantile with caps, clustered by patient",
 "Quantile of the Kaplan-Meier curve on torque (caps censored), limits by inverting its clustered interval.",
 "Kaplan, Meier 1958, JASA 53:457-481; Woodruff 1952, JASA 47:635-646"},
{"rank_jackknife", "rank correlation, jackknife by patient",
 "Limits on Fisher's z scale from leaving out one patient at a time.", "Efron, Stein 1981, Annals of Statistics 9:586-596"},
{"trend_jackknife", "ordered trend, jackknife by patient",
 "Standard error from leaving out one patient at a time.", "Jonckheere 1954, Biometrika 41:133-145"},
{"kappa_linear", "weighted kappa (linear), jackknife by patient",
 "Weights |i - j|; limits from leaving out one patient at a time.", "Cohen 1968, Psychological Bulletin 70:213-220"},
{"kappa_quadratic", "weighted kappa (quadratic), jackknife by patient",
 "Weights (i - j) squared; limits from leaving out one patient at a time.",
 "Fleiss, Cohen 1973, Educational and Psychological Measurement 33:613-619"},
{"reml", "mixed model, patient intercept",
 "Restricted maximum likelihood with a random intercept for the patient, Satterthwaite degrees of freedom. With fewer than "
 "60 patients, or where no variance between patients is found: least squares clustered by patient.",
 "Patterson, Thompson 1971, Biometrika 58:545-554"},
{"reliability", "reliability", "Ratio of variances; no interval.", "Fuller 1987, Measurement Error Models"},
{"verdict", "rule", "Comparison of two models by a fixed rule.", "ours"},
{"kaplan_meier_robust", "Kaplan-Meier, clustered by patient",
 "Product-limit estimate, double-log limits from the grouped infinitesimal jackknife by patient; at whole years the lower limit "
 "goes on falling after the last failure as the numbers at risk shrink.",
 "Kaplan, Meier 1958, JASA 53:457-481; Therneau, Grambsch 2000, Modeling Survival Data; Dorey, Korn 1987, Statistics in Medicine "
 "6:679-687"},
{"kaplan_meier_bound", "Kaplan-Meier under an extreme assumption",
 "The same estimate with the lost counted as failed, or as event-free.", "ours"},
{"reverse_kaplan_meier", "reverse Kaplan-Meier",
 "Kaplan-Meier with the end of observation as the event, limits clustered by patient.",
 "Schemper, Smith 1996, Controlled Clinical Trials 17:343-346"},
{"cox_robust", "Cox model, clustered by patient",
 "Partial likelihood (Efron ties), sandwich variance summed by patient.",
 "Cox 1972, JRSS B 34:187-220; Lin, Wei 1989, JASA 84:1074-1078"},
{"cox_firth", "penalised Cox model (approximate)",
 "Penalised partial likelihood, chi-square divided by the design effect of the patients (not below 1).",
 "Firth 1993, Biometrika 80:27-38; Heinze, Schemper 2001, Biometrics 57:114-119"},
{"schoenfeld", "score test of scaled Schoenfeld residuals", "Score test of adding the term times 1 - S(t-), covariance by patient.",
 "Grambsch, Therneau 1994, Biometrika 81:515-526"},
{"logrank_robust", "score test, clustered by patient",
 "Log-rank score with its variance summed by patient.", "Lin, Wei 1989, JASA 84:1074-1078"},
{"life_table", "actuarial life table",
 "Yearly intervals, those leaving count half. Limits: double-log, Greenwood variance times the patient clustering of the "
 "Kaplan-Meier curve at the same time.", "Cutler, Ederer 1958, J Chron Dis 8:699-712"},
{"aalen_johansen", "cumulative incidence, clustered by patient",
 "Aalen-Johansen estimate, double-log limits from the grouped infinitesimal jackknife by patient; the upper limit goes on rising "
 "after the last event as the numbers at risk shrink (as for Kaplan-Meier).",
 "Aalen, Johansen 1978, Scandinavian Journal of Statistics 5:141-150"},
{"bounds", "bounds", "The share under the two extreme assumptions about the unknown, with the interval of each.", "ours"},
{"rate_clustered", "rate, clustered by patient",
 "Ratio of sums with the variance of the ratio estimator over patients, t limits on the log scale.",
 "Cochran 1977, Sampling Techniques"},
{"rate_exact_conservative", "exact rate (conservative)",
 "No failure: exact Poisson upper limit with each patient's time counted once.", "Garwood 1936, Biometrika 28:437-442"},
{"follow_up_index", "completeness of follow-up",
 "Observed over possible time; no interval.", "Clark, Altman, De Stavola 2002, Lancet 359:1309-1310"},
};

static const struct rt_grouping groupings[] = {
{"window", "records"},
{"censoring", "end of follow-up"},
{"operator", "operator"},
{"density_found", "density found"},
{"density_scale", "density scale"},
{"region", "region of the mouth"},
{"depth_class", "depth below the crest, mm"},
{"tissue_class", "tissue height, mm"},
{"torque_class", "final torque, Ncm"},
{"smoking", "smoking"},
{"year", "year of placement"},
{"status", "status"},
{"outcome", "outcome"},
{"reason", "reason"},
{"section", "section"},
{"field", "field"},
{"term", "term"},
{"cause", "cause"},
{"bound", "assumption"},
{"comparison", "compared by"},
};
/* clang-format on */

enum {
    MEASURES = sizeof measures / sizeof measures[0],
    METHODS = sizeof methods / sizeof methods[0],
    GROUPINGS = sizeof groupings / sizeof groupings[0]
};

const struct rt_measure *rt_measures(size_t *count)
{
    *count = MEASURES;
    return measures;
}

const struct rt_measure *rt_find_measure(const char *section, const char *name)
{
    for (size_t i = 0; i < MEASURES; i++)
        if (strcmp(measures[i].name, name) == 0 && strcmp(measures[i].section, section) == 0)
            return &measures[i];
    return NULL;
}

const struct rt_method *rt_methods(size_t *count)
{
    *count = METHODS;
    return methods;
}

const struct rt_method *rt_find_method(const char *key)
{
    for (size_t i = 0; i < METHODS; i++)
        if (strcmp(methods[i].key, key) == 0)
            return &methods[i];
    return NULL;
}

const struct rt_grouping *rt_find_grouping(const char *name)
{
    for (size_t i = 0; i < GROUPINGS; i++)
        if (strcmp(groupings[i].name, name) == 0)
            return &groupings[i];
    return NULL;
}

void rt_catalogue_to_csv(struct rt_text *text)
{
    rt_text_add(text, "section,measure,label,unit,decimals,at_unit,outcome,method,formula,source\n");
    for (size_t i = 0; i < MEASURES; i++) {
        const struct rt_measure *measure = &measures[i];
        rt_text_format(text, "%s,%s,", measure->section, measure->name);
        rt_text_add_csv_cell(text, measure->label, false);
        rt_text_format(text, ",%s,%d,%s,%s,%s,", measure->unit, measure->decimals, measure->at_unit,
                       measure->outcome, measure->method);
        rt_text_add_csv_cell(text, measure->formula, false);
        rt_text_add_character(text, ',');
        rt_text_add_csv_cell(text, measure->source, false);
        rt_text_add_character(text, '\n');
    }
}
