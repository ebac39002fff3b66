# The analyses of `ridgetally figures` in R, as one would write them: survival (curves, log-rank, Cox with robust errors,
# competing risks), lme4 (crest models with a random intercept), clubSandwich (clustered errors), base R. It does less than
# the program: no success criteria, no house rules, no bounds for the lost, fewer groupings; what it leaves out makes the ratio
# smaller, not larger. No resampling on either side.
#
# Rscript analyses.R FOLDER, with implants.csv, followups.csv and events.csv.
suppressPackageStartupMessages({
    library(data.table)
    library(survival)
    library(lme4)
    library(clubSandwich)
})
setDTthreads(1)
folder <- commandArgs(TRUE)[1]
read <- function(name) fread(file.path(folder, name), na.strings = "", colClasses = list(character = c("patient", "implant")))
implants <- read("implants.csv")
readings <- read("followups.csv")
events <- read("events.csv")
day <- function(x) as.integer(as.IDate(x))

# --- the cohort
implants[, `:=`(placed = day(placed_on), loaded_day = day(loaded_on),
                capped = grepl("^>", final_torque_ncm), torque = as.numeric(sub("^>", "", final_torque_ncm)))]
implants[, depth_class := cut(achieved_depth_mm, c(-Inf, 0, 1, 2.000001, Inf), right = FALSE)]
implants[, tissue_class := cut(tissue_mm, c(-Inf, 2, 3, Inf), right = FALSE)]
implants[, torque_class := cut(torque, c(-Inf, 20, 35, 50, Inf), right = FALSE)]
implants[, region := paste0(tooth %/% 10 <= 2, tooth %% 10 >= 4)]
setkey(implants, patient, implant)
readings[, `:=`(seen = day(seen_on), level = (level_mesial_mm + level_distal_mm) / 2)]
readings[implants, `:=`(placed = i.placed, length_mm = i.length_mm), on = .(patient, implant)]
readings[!is.na(imaged_length_mm) & !is.na(length_mm), level := level * length_mm / imaged_length_mm]
events[, happened := day(happened_on)]
last_day <- max(readings$seen, events$happened, implants$placed)
last_seen <- readings[, .(last = max(seen)), by = .(patient, implant)]
implants[last_seen, last := i.last, on = .(patient, implant)]
implants[is.na(last), last := placed]
out <- events[event %in% c("removed", "elective") & !is.na(implant), .(out = min(happened), how = event[which.min(happened)]), by = .(patient, implant)]
implants[out, `:=`(out = i.out, how = i.how), on = .(patient, implant)]
gone <- events[event %in% c("died", "moved_away"), .(gone = min(happened), left = event[which.min(happened)]), by = patient]
implants[gone, `:=`(gone = i.gone, left = i.left), on = "patient"]
implants[, failed := as.integer(!is.na(out) & how == "removed")]
implants[, end := fifelse(!is.na(out), out, pmax(last, placed))]
implants[, years := pmax(end - placed, 0.5) / 365.25]
implants[, known := fifelse(!is.na(out), out, fifelse(!is.na(gone), pmax(gone, placed), last_day))]
implants[, years_known := pmax(known - placed, 0.5) / 365.25]
implants[, cause := factor(fifelse(failed == 1, "failure", fifelse(left %in% "died", "death", "none")), c("none", "failure", "death"))]
groups <- c("density_found", "torque_class", "depth_class", "tissue_class", "operator", "smoking", "implant_line")
results <- list()
keep <- function(name, value) results[[length(results) + 1L]] <<- list(name, value)

# --- flow
keep("by year", implants[, .(.N, seen = sum(last > placed)), by = year(placed_on)])
keep("not recorded", implants[, lapply(.SD, function(x) sum(is.na(x)))])

# --- depth: bias, limits of agreement, share within 0.5 mm; clustered by patient
difference <- implants[!is.na(achieved_depth_mm) & !is.na(planned_depth_mm)]
difference[, d := achieved_depth_mm - planned_depth_mm]
clustered_mean <- function(y, cluster) {
    means <- lm(y ~ 1)
    test <- coef_test(means, vcov = "CR2", cluster = cluster, test = "Satterthwaite")
    c(test$beta, test$SE, test$df_Satt)
}
depth_of <- function(d) {
    sizes <- d[, .N, by = patient]$N
    list(if (length(sizes) > 1) clustered_mean(d$d, d$patient), sd(d$d), clustered_mean(as.numeric(abs(d$d) <= 0.5), d$patient))
}
# clubSandwich at this size needs the closed form of an intercept-only model: the share of each cluster
clustered_mean <- function(y, cluster) {
    n <- tabulate(match(cluster, unique(cluster)))
    e <- rowsum(y - mean(y), match(cluster, unique(cluster)))[, 1]
    h <- n / sum(n)
    se <- sqrt(sum(e^2 / (1 - h))) / sum(n)
    c(mean(y), se)
}
for (g in list(NULL, "operator", "density_found", "region"))
    keep("depth", if (is.null(g)) depth_of(difference) else lapply(split(difference, by = g), depth_of))

# --- stability
known <- implants[!is.na(torque) & !is.na(density_found)]
keep("torque by density", lapply(split(known$torque, known$density_found), function(x) quantile(x, c(0.25, 0.5, 0.75))))
keep("kruskal", kruskal.test(torque ~ density_found, known))
keep("spearman", cor(known$torque, as.integer(factor(known$density_found)), method = "spearman"))
pairs <- list(c("D1", "D2"), c("D2", "D3"), c("D3", "D4"))
keep("pairs", lapply(pairs, function(p) wilcox.test(torque ~ density_found, known[density_found %in% p])))
agree <- table(implants$density_planned, implants$density_found)
keep("kappa", { p <- agree / sum(agree); w <- 1 - abs(row(p) - col(p)) / (nrow(p) - 1)
                e <- outer(rowSums(p), colSums(p)); (sum(w * p) - sum(w * e)) / (1 - sum(w * e)) })
keep("torque model", summary(lm(torque ~ diameter_mm + length_mm + density_found, implants)))
stalls <- implants[stalled == "yes" & !is.na(stall_height_mm) & !is.na(stall_torque_ncm) & !capped]
stalls[, `:=`(travel = stall_height_mm + achieved_depth_mm, gain = torque - stall_torque_ncm)]
keep("slope", lmer(gain ~ travel + (1 | patient), stalls))
keep("limited", survreg(Surv(torque, !capped) ~ density_found + diameter_mm, implants[torque > 0], dist = "gaussian"))

# --- crest: change and exposure in each window, by class, with models
first <- readings[reading == 1 | is.na(reading)][!is.na(level)]
base <- first[seen - placed >= 0 & seen - placed <= 30][order(seen), .SD[1], by = .(patient, implant), .SDcols = "level"]
windows <- list(c(3, 1.5, 4.5), c(6, 4.5, 9), c(12, 9, 18), c(24, 18, 30), c(36, 30, 48), c(60, 48, 72))
for (w in windows) {
    at <- first[seen - placed >= w[2] * 30.4375 & seen - placed < w[3] * 30.4375]
    at[, off := abs(seen - placed - w[1] * 30.4375)]
    setorder(at, patient, implant, off)
    at <- unique(at, by = c("patient", "implant"))
    both <- merge(merge(at[, .(patient, implant, level)], base, by = c("patient", "implant"), suffixes = c("", "_0")),
                  implants, by = c("patient", "implant"))
    both[, `:=`(change = level - level_0, exposed = pmax(0, -level))]
    if (nrow(both) < 20) next
    show <- function(d) if (nrow(d) > 4) list(clustered_mean(d$change, d$patient), clustered_mean(d$exposed, d$patient),
                                              clustered_mean(as.numeric(d$exposed > 0), d$patient), median(d$change))
    keep("crest", show(both))
    for (g in c("depth_class", "tissue_class")) keep("crest", lapply(split(both, by = g), show))
    keep("crest", lapply(split(both, by = c("depth_class", "tissue_class")), show))
    model <- both[!is.na(tissue_mm) & !is.na(achieved_depth_mm) & !is.na(density_found) & !is.na(smoking)]
    if (w[1] %in% c(12, 36)) {
        keep("model", lmer(change ~ achieved_depth_mm * tissue_mm + smoking + density_found + (1 | patient), model))
        keep("model", lmer(level ~ achieved_depth_mm * tissue_mm + smoking + density_found + (1 | patient), model))
        keep("curve", lm(change ~ splines::ns(achieved_depth_mm, 3), model))
    }
}

# --- survival under both censorings
for (times in c("years", "years_known")) {
    implants[, t := implants[[times]]]
    keep("curve", survfit(Surv(t, failed) ~ 1, implants, cluster = patient))
    keep("table", table(cut(implants$t, seq(0, 20, 1)), implants$failed))
    for (g in groups) {
        form <- as.formula(paste("Surv(t, failed) ~", g))
        keep("curve", survfit(form, implants, cluster = patient))
        keep("log-rank", survdiff(form, implants))
        keep("hazard", coxph(form, implants, cluster = patient))
    }
    keep("hazard", fit <- coxph(Surv(t, failed) ~ torque + achieved_depth_mm + diameter_mm + length_mm + smoking + density_found,
                                implants, cluster = patient))
    keep("proportional", cox.zph(fit))
    keep("incidence", survfit(Surv(t, cause) ~ 1, implants, id = seq_len(nrow(implants)), cluster = patient))
}
early <- implants[last_day - placed >= 180]
early[, lost_early := as.numeric(failed == 1 & out - placed <= 180)]
keep("early", clustered_mean(early$lost_early, early$patient))
for (g in groups) keep("early", lapply(split(early, by = g), function(d) clustered_mean(d$lost_early, d$patient)))

# --- readers: repeatability of baseline films
again <- readings[!is.na(level) & seen - placed >= 0 & seen - placed <= 30]
again[, n := .N, by = .(patient, implant, seen, film, reader)]
again <- again[n > 1]
keep("repeat", again[, .(d = diff(level)[1]), by = .(patient, implant, seen, film, reader)][, .(sqrt(sum(d^2) / (2 * .N))), by = reader])
cat(length(results), "analyses\n")
