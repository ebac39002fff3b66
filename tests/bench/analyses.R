# The analyses of `ridgetally figures` in R, section by section, as one would write them for speed: data.table for the records,
# survival (curves, log-rank, Cox with robust errors, competing risks, censored normal models), lme4 (random intercepts),
# brglm2 (penalised logistic), and closed or vectorised forms where the packages cannot go to this size (CR2 errors with
# Satterthwaite degrees of freedom: clubSandwich would need matrices of patients by patients).
#
# It still does less than the program: no jackknife of rank correlations and of the readers' agreement by patient, no case
# lists, no remarks, minima and p adjusted, no notes, no bounds for the lost, no influence of each patient on the change of a
# curve, no likeness of patients in `how many more`; lme4's Wald errors stand for Satterthwaite's. All this makes the ratio
# smaller, not larger. Resampling is left out of both (`figures --without-resampling`): limits and test of the knee, charts of
# failures, whose limits are simulated, and one implant of each patient.
#
# Rscript analyses.R FOLDER, with implants.csv, followups.csv and events.csv.
suppressPackageStartupMessages({
    library(data.table)
    library(survival)
    library(lme4)
    library(brglm2)
    library(pcaPP)
})
setDTthreads(1)
folder <- commandArgs(TRUE)[1]
clock <- sum(proc.time()[1:2])
section <- function(name) { # seconds of the processor of each, for whoever runs this by hand
    now <- sum(proc.time()[1:2])
    message(sprintf("%8.2f  before %s", now - clock, name))
    clock <<- now
}
read <- function(name) fread(file.path(folder, name), na.strings = "", colClasses = list(character = c("patient", "implant")))
implants <- read("implants.csv")
readings <- read("followups.csv")
events <- read("events.csv")
day <- function(x) as.integer(as.IDate(x))
month <- 30.4375
results <- list()
keep <- function(name, value) results[[length(results) + 1L]] <<- list(name, value)

# --- statistics ----------------------------------------------------------------------------------------------
# Mean with CR2 error and Satterthwaite df: T_i = n_i/n, so everything is a sum over clusters.
clustered_mean <- function(y, cluster) {
    cluster <- match(cluster, unique(cluster))
    n <- tabulate(cluster)
    if (length(n) < 2) return(mean(y))
    m <- mean(y)
    e <- rowsum(y - m, cluster, reorder = FALSE)[, 1]
    h <- n / sum(n)
    se <- sqrt(sum(e^2 / (1 - h))) / sum(n)
    a <- h / (1 - h); w2 <- (h / sqrt(1 - h))^2
    d <- sum(h / (1 - h) - w2)
    df <- d^2 / (sum(a * h)^2 - sum(w2^2) + sum((a - w2)^2))
    c(m, se, df, m + c(-1, 1) * qt(0.975, df) * se)
}
# Korn and Graubard: exact limits at the effective number.
clustered_share <- function(y, cluster) {
    fit <- clustered_mean(y, cluster)
    n <- length(y); p <- fit[1]
    if (length(fit) < 3 || !(fit[2] > 0)) return(c(p, qbeta(c(0.025, 0.975), c(sum(y), sum(y) + 1), c(n - sum(y) + 1, n - sum(y)))))
    effective <- min(n, p * (1 - p) / fit[2]^2 * (qt(0.975, n - 1) / qt(0.975, max(1, length(unique(cluster)) - 1)))^2)
    c(p, qbeta(0.025, p * effective, effective - p * effective + 1), qbeta(0.975, p * effective + 1, effective - p * effective))
}
# Woodruff: the share at or below the quantile, its clustered limits taken back through the quantiles.
clustered_quantile <- function(y, cluster, p) {
    q <- quantile(y, p, names = FALSE)
    se <- clustered_mean(as.numeric(y <= q), cluster)[2]
    c(q, quantile(y, pmin(1, pmax(0, p + c(-1.96, 1.96) * se)), names = FALSE))
}
patient_mean <- function(y, cluster) { m <- rowsum(y, cluster) / rowsum(rep(1, length(y)), cluster); c(mean(m), sd(m) / sqrt(length(m))) }
# Bland and Altman's limits with clustered errors: mean and the mean square about it.
limits <- function(y, cluster) {
    a <- clustered_mean(y, cluster); b <- clustered_mean((y - a[1])^2, cluster)
    c(a, sqrt(b[1]), a[1] + c(-1.96, 1.96) * sqrt(b[1]), b)
}
mean_difference <- function(y, second, cluster) cr2(cbind(1, second), y, cluster)[2, ]
# Least squares with CR2 errors and Satterthwaite df of every coefficient, or of the combinations in the rows of `at`. Clusters of
# one row in one go, the others one by one through the eigenvalues of Q_i Q_i'.
cr2 <- function(X, y, cluster, at = NULL) {
    q <- qr(X)
    p <- q$rank
    kept <- q$pivot[seq_len(p)]
    Q <- qr.Q(q)[, seq_len(p), drop = FALSE]
    R <- qr.R(q)[seq_len(p), seq_len(p), drop = FALSE]
    b <- backsolve(R, crossprod(Q, y))
    e <- drop(y - Q %*% (R %*% b))
    cluster <- match(cluster, unique(cluster))
    size <- tabulate(cluster)
    single <- size[cluster] == 1
    L1 <- Q[single, , drop = FALSE]
    mu <- rowSums(L1^2)
    U1 <- L1 * (e[single] / sqrt(1 - mu))
    rows <- split(which(!single), cluster[!single])
    parts <- lapply(rows, function(i) {
        Qi <- Q[i, , drop = FALSE]
        if (length(i) <= p) { v <- eigen(tcrossprod(Qi), symmetric = TRUE); L <- crossprod(v$vectors, Qi) }
        else { v <- eigen(crossprod(Qi), symmetric = TRUE); L <- sqrt(pmax(0, v$values)) * t(v$vectors) }
        a <- 1 / sqrt(pmax(1e-12, 1 - v$values))
        z <- drop(crossprod(Qi, e[i]))
        list(L = L, a = a, u = z + drop(crossprod(L, a^2 / (1 + a) * drop(L %*% z))))
    })
    L <- rbind(L1, do.call(rbind, lapply(parts, `[[`, "L")))
    a <- c(1 / sqrt(1 - mu), unlist(lapply(parts, `[[`, "a"), use.names = FALSE))
    of <- c(seq_len(nrow(L1)), nrow(L1) + rep(seq_along(parts), vapply(parts, function(x) length(x$a), 1L)))
    U <- rbind(U1, do.call(rbind, lapply(parts, `[[`, "u")))
    meat <- crossprod(U)
    Z <- if (is.null(at)) diag(p) else at[, kept, drop = FALSE]
    Z <- t(backsolve(R, t(Z), transpose = TRUE))
    t(apply(Z, 1, function(z) {
        along <- a * drop(L %*% z)
        w <- rowsum(L * along, of, reorder = FALSE)
        own <- rowsum(along^2, of, reorder = FALSE)[, 1] - (w2 <- rowSums(w^2))
        df <- sum(own)^2 / (sum(crossprod(w)^2) - sum(w2^2) + sum(own^2))
        value <- sum(z * (R %*% b)); se <- sqrt(max(0, drop(z %*% meat %*% z)))
        c(value, se, df, 2 * pt(-abs(value / se), df))
    }))
}
# Restricted cubic spline with the usual knots, its curve with CR2 limits.
spline_terms <- function(x, k) {
    n <- length(k)
    cbind(x, sapply(seq_len(n - 2), function(j) (pmax(0, x - k[j])^3 - pmax(0, x - k[n - 1])^3 * (k[n] - k[j]) / (k[n] - k[n - 1]) +
        pmax(0, x - k[n])^3 * (k[n - 1] - k[j]) / (k[n] - k[n - 1])) / (k[n] - k[1])^2))
}
curve_of <- function(x, y, cluster, at = NULL) {
    k <- unique(quantile(x, c(0.05, 0.275, 0.5, 0.725, 0.95), names = FALSE))
    if (length(k) < 3) return(NULL)
    if (is.null(at)) at <- seq(k[1], k[length(k)], length.out = 25)
    cr2(cbind(1, spline_terms(x, k)), y, cluster, cbind(1, spline_terms(at, k)))
}
censored_normal <- function(form, data, ...) survreg(form, data, dist = "gaussian", cluster = pid, ...)
by_level <- function(d, g, f) d[!is.na(get(g)), .(list(f(.SD))), by = g]

# --- the cohort ----------------------------------------------------------------------------------------------
implants[, `:=`(placed = day(placed_on), loaded_day = day(loaded_on), capped = grepl("^>", final_torque_ncm),
                torque = as.numeric(sub("^>", "", final_torque_ncm)), stall = as.numeric(sub("^>", "", stall_torque_ncm)))]
implants[, pid := .GRP, by = patient]
implants[, depth_class := cut(achieved_depth_mm, c(-Inf, 0, 1, 2.000001, Inf), right = FALSE)]
implants[, tissue_class := cut(tissue_mm, c(-Inf, 2, 3, Inf), right = FALSE)]
implants[, both_classes := paste(depth_class, tissue_class)]
implants[, torque_class := cut(torque, c(-Inf, 20, 35, 50, Inf), right = FALSE)]
implants[, region := paste0(tooth %/% 10 <= 2, tooth %% 10 >= 4)]
setkey(implants, patient, implant)
implants[, row := .I]
readings[, seen := day(seen_on)]
readings[implants, `:=`(row = i.row, pid = i.pid, placed = i.placed, loaded_day = i.loaded_day, length_mm = i.length_mm), on = .(patient, implant)]
readings[!is.na(imaged_length_mm) & !is.na(length_mm), `:=`(level_mesial_mm = level_mesial_mm * length_mm / imaged_length_mm,
                                                            level_distal_mm = level_distal_mm * length_mm / imaged_length_mm)]
readings[, level := (level_mesial_mm + level_distal_mm) / 2]
events[, happened := day(happened_on)]
last_day <- max(readings$seen, events$happened, implants$placed)
year_start <- last_day - 365L
groups <- c("density_found", "torque_class", "depth_class", "tissue_class", "operator", "smoking", "implant_line")
# Fates as known at a day: the audited period's end, and those of the earlier periods it is compared with.
fates <- function(implants, until) {
    d <- copy(implants[placed <= until])
    seen <- readings[seen <= until, .(last = max(seen)), by = row]
    d[seen, last := i.last, on = "row"]
    d[is.na(last), last := placed]
    e <- events[happened <= until]
    out <- e[event %in% c("removed", "elective") & !is.na(implant), .(out = min(happened), how = event[which.min(happened)]), by = .(patient, implant)]
    d[out, `:=`(out = i.out, how = i.how), on = .(patient, implant)]
    gone <- e[event %in% c("died", "moved_away"), .(gone = min(happened), left = event[which.min(happened)]), by = patient]
    d[, `:=`(gone = NA_integer_, left = NA_character_)]
    d[gone, `:=`(gone = i.gone, left = i.left), on = "patient"]
    if (is.null(d$out)) d[, `:=`(out = NA_integer_, how = NA_character_)]
    d[, failed := as.integer(!is.na(out) & how == "removed")]
    d[, end := fifelse(!is.na(out), out, pmax(last, placed))]
    d[, years := pmax(end - placed, 0.5) / 365.25]
    d[, known := fifelse(!is.na(out), out, fifelse(!is.na(gone), pmax(gone, placed), until))]
    d[, years_known := pmax(known - placed, 0.5) / 365.25]
    d[, cause := factor(fifelse(failed == 1, "failure", fifelse(left %in% "died", "death", "none")), c("none", "failure", "death"))]
    d[, early := fifelse(failed == 1 & out - placed <= 180, 1, fifelse(end - placed >= 180 | failed == 1, 0, NA_real_))]
    d[until - placed < 180, early := NA]
    d[]
}
all <- fates(implants, last_day)
# One film at a window after a baseline day, nearest to its middle, and the change since the first film.
first_reading <- readings[(reading == 1 | is.na(reading)) & !is.na(level)]
windows <- list(c(3, 1.5, 4.5), c(6, 4.5, 9), c(12, 9, 18), c(24, 18, 30), c(36, 30, 48), c(60, 48, 72))
at_window <- function(w, baseline, until = last_day) {
    r <- first_reading[seen <= until]
    r[, from := if (baseline == "placed") placed else loaded_day]
    base <- r[seen - from >= 0 & seen - from <= 30][order(row, seen)]
    base <- unique(base, by = "row")
    at <- r[seen - from >= w[2] * month & seen - from < w[3] * month]
    at[, off := abs(seen - from - w[1] * month)]
    setorder(at, row, off, seen)
    at <- unique(at, by = "row")
    at[base, `:=`(mesial = level_mesial_mm - i.level_mesial_mm, distal = level_distal_mm - i.level_distal_mm,
                  mean = level - i.level, readers_differ = reader != i.reader), on = "row"]
    if (is.null(at$mean)) at[, `:=`(mesial = NA_real_, distal = NA_real_, mean = NA_real_)]
    at[, worse := pmin(mesial, distal)]
    at[, `:=`(e_mesial = pmax(0, -level_mesial_mm), e_distal = pmax(0, -level_distal_mm), e_mean = pmax(0, -level))]
    at[, e_worse := pmax(e_mesial, e_distal)]
    due <- all[, .(row, pid, closes = (if (baseline == "placed") placed else loaded_day) + as.integer(w[3] * month), depth_class, tissue_class,
                   both_classes, placed, out, gone, last)][!is.na(closes) & closes <= until]
    at[due, closes := i.closes, on = "row"]
    list(at = at[!is.na(closes)], due = due)
}
year_window <- at_window(windows[[3]], "placed")$at
year_window <- merge(year_window[, .(row, mean, mesial, distal, level, e_worse, closes)], all, by = "row")

section("flow")
keep("by year", all[, .(.N, seen = sum(last > placed)), by = year(placed_on)])
keep("not recorded", implants[, lapply(.SD, function(x) sum(is.na(x)))])
all[, complete := as.numeric(last > last_day - 456 | !is.na(out) | !is.na(gone))]
keep("completeness", list(clustered_share(all$complete, all$pid), all[, .(list(clustered_share(complete, pid))), by = year(placed_on)]))
keep("follow-up index", all[, .(sum(end - placed) / sum(pmax(1, last_day - placed))), by = year(placed_on)])
keep("follow-up", quantile(survfit(Surv(years, 1 - failed) ~ 1, all), 0.5))

section("depth")
difference <- all[!is.na(achieved_depth_mm) & !is.na(planned_depth_mm)]
difference[, d := achieved_depth_mm - planned_depth_mm]
depth_of <- function(d) list(limits(d$d, d$pid), clustered_mean(abs(d$d), d$pid), clustered_share(as.numeric(abs(d$d) <= 0.5), d$pid), patient_mean(d$d, d$pid))
for (records in list(difference, difference[placed >= year_start])) {
    keep("depth", depth_of(records))
    for (g in c("operator", "density_found", "region")) keep("depth", by_level(records, g, depth_of))
    for (o in unique(records$operator)) keep("depth", mean_difference(records$d, as.numeric(records$operator == o), records$pid))
}

section("stability")
for (records in list(all, all[placed >= year_start])) {
    known <- records[!is.na(torque)]
    quartiles <- function(d) lapply(c(0.25, 0.5, 0.75), function(p) clustered_quantile(d$torque, d$pid, p))
    keep("torque", list(quartiles(known), by_level(known, "density_found", quartiles)))
    known <- known[!is.na(density_found)]
    known[, class := as.integer(factor(density_found))]
    for (x in c("diameter_mm", "length_mm", "class")) {
        both <- known[!is.na(get(x))]
        keep("rank", c(cor(both$torque, both[[x]], method = "spearman"), cor.fk(both$torque, both[[x]])))
    }
    keep("trend", kruskal.test(torque ~ density_found, known))
    agree <- records[!is.na(density_planned) & !is.na(density_found)]
    for (power in 1:2) keep("kappa", { p <- table(agree$density_planned, agree$density_found) / nrow(agree)
        w <- 1 - (abs(row(p) - col(p)) / (nrow(p) - 1))^power
        e <- outer(rowSums(p), colSums(p)); (sum(w * p) - sum(w * e)) / (1 - sum(w * e)) })
    keep("same class", clustered_share(as.numeric(agree$density_planned == agree$density_found), agree$pid))
    stalls <- records[stalled == "yes" & !is.na(stall_height_mm) & !is.na(stall) & !is.na(achieved_depth_mm) & !is.na(torque)]
    stalls[, `:=`(travel = stall_height_mm + achieved_depth_mm, gain = torque - stall)]
    reached <- stalls[capped == FALSE]
    keep("slope", list(cr2(cbind(1, reached$travel), reached$gain, reached$pid), cr2(cbind(reached$travel), reached$gain, reached$pid),
                       censored_normal(Surv(gain, !capped) ~ travel, stalls)))
}
low <- all[!is.na(torque)]
low[, low := as.numeric(torque < 20)]
keep("low torque", clustered_share(low$low, low$pid))

section("crest")
sites <- c("mesial", "distal", "mean", "worse")
for (baseline in c("placed", "loaded_day")) for (w in windows) {
    both <- at_window(w, baseline)
    both$at[all, `:=`(depth_class = i.depth_class, tissue_class = i.tissue_class, both_classes = i.both_classes), on = "row"]
    for (recent in c(FALSE, TRUE)) {
        at <- if (recent) both$at[closes >= year_start] else both$at
        due <- if (recent) both$due[closes >= year_start] else both$due
        keep("flow", due[, .(.N, uniqueN(pid)), by = .(read = row %in% at$row, out = !is.na(out) & out <= closes, gone = !is.na(gone) & gone <= closes, last <= closes)])
        keep("read", if (nrow(due) > 0) clustered_share(as.numeric(due$row %in% at$row), due$pid))
        if (nrow(at) < 20) next
        change_of <- function(d, s) { ok <- !is.na(d[[s]]); if (sum(ok) > 1) clustered_mean(d[[s]][ok], d$pid[ok]) }
        median_of <- function(d, s) clustered_quantile(d[[paste0("e_", s)]], d$pid, 0.5)
        share_of <- function(d) clustered_share(as.numeric(d$e_worse > 0.5), d$pid)
        keep("crest", list(lapply(sites, change_of, d = at), lapply(sites, median_of, d = at), share_of(at),
                           patient_mean(at$mean[!is.na(at$mean)], at$pid[!is.na(at$mean)]), patient_mean(as.numeric(at$e_worse > 0.5), at$pid)))
        for (g in c("depth_class", "tissue_class", "both_classes"))
            keep("crest", by_level(at, g, function(d) list(change_of(d, "mean"), change_of(d, "worse"), median_of(d, "worse"), share_of(d))))
        changed <- at[!is.na(mean)]
        for (beyond in c(0.5, 1, 2)) keep("beyond", if (nrow(changed) > 1) clustered_share(as.numeric(changed$mean < -beyond), changed$pid))
    }
}
model <- year_window[!is.na(mean) & !is.na(tissue_mm) & !is.na(achieved_depth_mm) & !is.na(density_found) & !is.na(smoking)]
model[, `:=`(depth = achieved_depth_mm - mean(achieved_depth_mm), tissue = tissue_mm - mean(tissue_mm))]
mixed <- function(form, d) { fit <- lmer(form, d); list(fixef(fit), vcov(fit), VarCorr(fit)) }
for (d in list(model, model[closes >= year_start])) {
    X <- model.matrix(~ depth * tissue + smoking + density_found, d)
    keep("change", list(mixed(mean ~ depth * tissue + smoking + density_found + (1 | pid), d), cr2(X, d$mean, d$pid)))
    keep("level", list(mixed(level ~ depth * tissue + smoking + density_found + (1 | pid), d), cr2(X, d$level, d$pid)))
}
at <- X[rep(1, 74), ]
at <- matrix(colMeans(model.matrix(~ depth * tissue + smoking + density_found, model)), 74, ncol(X), byrow = TRUE)
keep("predicted", cr2(model.matrix(~ depth * tissue + smoking + density_found, model), model$mean, model$pid, at))
keep("with operator", list(mixed(mean ~ depth * tissue + smoking + density_found + operator + (1 | pid), model),
                           cr2(model.matrix(~ depth * tissue + smoking + density_found + operator, model), model$mean, model$pid)))
bent <- year_window[!is.na(mean) & !is.na(achieved_depth_mm)]
keep("dose", curve_of(bent$achieved_depth_mm, bent$mean, bent$pid))
slopes <- first_reading[seen - placed >= 365, if (.N > 1) .(slope = cov(level, seen) / var(seen) * 365.25, pid = pid[1]), by = row][is.finite(slope)]
keep("yearly", clustered_mean(slopes$slope, slopes$pid))

section("survival")
for (times in c("years", "years_known")) {
    all[, t := all[[times]]]
    keep("curve", survfit(Surv(t, failed) ~ 1, all, cluster = pid))
    keep("late curve", survfit(Surv(t, failed) ~ 1, all[t > 1], cluster = pid))
    keep("table", table(cut(all$t, seq(0, 20, 1)), all$failed))
    for (g in groups) {
        form <- as.formula(paste("Surv(t, failed) ~", g))
        keep("curve", survfit(form, all, cluster = pid))
        keep("log-rank", survdiff(form, all))
        keep("hazard", fit <- coxph(form, all, cluster = pid))
        keep("proportional", cox.zph(fit))
    }
    keep("incidence", survfit(Surv(t, cause) ~ 1, all, id = row, cluster = pid))
    before <- all[!is.na(loaded_day) | failed == 1]
    before[, `:=`(t = pmax(0.5, pmin(end, loaded_day, na.rm = TRUE) - placed), cause = factor(fifelse(failed == 1 & (is.na(loaded_day) | out < loaded_day), "failure",
        fifelse(!is.na(loaded_day) & loaded_day <= end, "loaded", "none")), c("none", "failure", "loaded")))]
    keep("before loading", survfit(Surv(t, cause) ~ 1, before, id = row, cluster = pid))
}
for (records in list(all, all[placed >= year_start])) {
    early <- records[!is.na(early)]
    share_of <- function(d) clustered_share(d$early, d$pid)
    if (nrow(early) > 1) keep("early", share_of(early))
    for (g in groups) keep("early", by_level(early, g, share_of))
}
at_risk <- all[, .(failures = sum(failed), years = sum(years)), by = pid]
keep("rate", { r <- sum(at_risk$failures) / sum(at_risk$years); c(r, sqrt(sum((at_risk$failures - r * at_risk$years)^2)) / sum(at_risk$years)) })
lost <- all[failed == 1]
keep("gap", clustered_quantile(lost$out - pmin(lost$last, lost$out), lost$pid, 0.5))

section("success")
facts <- readings[, .(row, seen, placed, level, radiolucency, mobile, pain, suppuration, bleeding, probing_mm)]
criteria <- list(c("mobile", "pain", "radiolucency", "suppuration"), c("mobile", "radiolucency", "pain"), c("mobile", "pain", "radiolucency", "suppuration", "loss"))
for (w in c(windows, list(NULL))) for (recent in c(FALSE, TRUE)) {
    closes <- if (is.null(w)) rep(last_day, nrow(all)) else all$placed + as.integer(w[3] * month)
    due <- all[closes <= last_day & (is.null(w) | !recent | closes >= year_start) & placed + 9 * month <= last_day]
    visits <- if (is.null(w)) facts[seen > last_day - 456] else facts[seen - placed >= w[2] * month & seen - placed < w[3] * month]
    found <- visits[, .(mobile = any(mobile == "yes", na.rm = TRUE), mobile_known = any(!is.na(mobile)), pain = any(pain == "yes", na.rm = TRUE), pain_known = any(!is.na(pain)),
                        radiolucency = any(radiolucency == "yes", na.rm = TRUE), radiolucency_known = any(!is.na(radiolucency)),
                        suppuration = any(suppuration == "yes", na.rm = TRUE), suppuration_known = any(!is.na(suppuration)),
                        level = level[which.max(seen)]), by = row]
    due <- merge(due[, .(row, pid, out, failed, end)], found, by = "row", all.x = TRUE)
    due <- merge(due, year_window[, .(row, first_level = level - mean)], by = "row", all.x = TRUE)
    due[, `:=`(loss = first_level - level > 2, loss_known = !is.na(first_level - level))]
    for (set in criteria) {
        met <- Reduce(`&`, lapply(set, function(x) !due[[x]])) & due$failed == 0
        known <- Reduce(`&`, lapply(set, function(x) due[[paste0(x, "_known")]])) | due$failed == 1
        due[, met := fifelse(known %in% TRUE, as.numeric(met), NA_real_)]
        judged <- due[!is.na(met)]
        if (nrow(judged) > 1) keep("share", list(clustered_share(judged$met, judged$pid), patient_mean(judged$met, judged$pid)))
        for (unknown in 0:1) keep("bound", if (nrow(due) > 1) clustered_share(fifelse(is.na(due$met), as.numeric(unknown), due$met), due$pid))
        keep("unjudged", lapply(set, function(x) due[is.na(met), .(.N, uniqueN(pid)), by = c(paste0(x, "_known"))]))
        keep("classes", due[, .(.N, uniqueN(pid)), by = .(met, mobile, pain, radiolucency)])
    }
}

section("rules")
wall <- pmin(all$wall_buccal_mm, all$wall_lingual_mm)
all[year_window, `:=`(change = i.mean, exposed = as.numeric(i.e_worse > 0.5)), on = "row"]
all[, `:=`(travel = stall_height_mm + achieved_depth_mm, gain = torque - stall, wait = loaded_day - placed, low = as.numeric(torque < 20),
           within = as.numeric(abs(achieved_depth_mm - planned_depth_mm) <= 0.5), wall = wall, total = tissue_mm + achieved_depth_mm,
           found = as.integer(sub("\\D+", "", density_found)))]
held <- c("smoking", "diabetes", "periodontitis", "graft", "density_found", "tissue_mm", "diameter_mm", "length_mm")
rules <- list(
    list(followed = quote(achieved_depth_mm >= 1 & achieved_depth_mm <= 2), y = "exposed", dose = "achieved_depth_mm"),
    list(followed = quote(total >= 4), y = "change", dose = "total"),
    list(followed = quote(changed == "yes" | closure == "two-stage"), y = "early", of = quote(stalled == "no")),
    list(followed = quote(wall >= 1.5), y = "change", dose = "wall"),
    list(followed = quote(found <= 2), y = "torque", of = quote(TRUE)),
    list(followed = quote(dense_drilling == "yes"), y = "within", of = quote(found <= 2)),
    list(followed = quote(next_size_possible == "yes"), y = "early"),
    list(followed = quote(wait >= 84), y = "early", dose = "wait"))
for (rule in rules) {
    d <- if (is.null(rule$of)) all else all[eval(rule$of)]
    d <- d[, followed := as.numeric(eval(rule$followed))][!is.na(followed)]
    keep("followed", clustered_share(d$followed, d$pid))
    d[, y := d[[rule$y]]]
    d <- d[!is.na(y)]
    is_share <- rule$y %in% c("exposed", "early", "within")
    keep("outcome", lapply(0:1, function(k) { x <- d[followed == k]; if (is_share) clustered_share(x$y, x$pid) else clustered_mean(x$y, x$pid) }))
    full <- d[stats::complete.cases(d[, held, with = FALSE])]
    form <- as.formula(paste("~ followed +", paste(setdiff(held, rule$dose), collapse = " + ")))
    X <- model.matrix(form, full)
    if (rule$y == "torque") {
        keep("difference", censored_normal(Surv(y, !capped) ~ followed, d))
        keep("adjusted", censored_normal(update(form, Surv(y, !capped) ~ .), full))
    } else {
        keep("difference", mean_difference(d$y, d$followed, d$pid))
        keep("adjusted", list(cr2(X, full$y, full$pid), if (!is_share) mixed(update(form, y ~ . + (1 | pid)), full)))
    }
    if (!is.null(rule$dose)) { x <- d[!is.na(get(rule$dose))]; keep("dose", curve_of(x[[rule$dose]], x$y, x$pid)) }
}
gains <- all[stalled == "yes" & !is.na(gain) & !is.na(travel)]
full <- gains[stats::complete.cases(gains[, held, with = FALSE])]
keep("torque", list(censored_normal(Surv(gain, !capped) ~ travel, gains),
                    censored_normal(as.formula(paste("Surv(gain, !capped) ~ travel +", paste(held, collapse = " + "))), full)))
sums <- all[!is.na(change) & !is.na(total)]
knots <- unique(quantile(sums$total, c(0.05, 0.35, 0.65, 0.95), names = FALSE))
full <- sums[stats::complete.cases(sums[, held, with = FALSE])]
keep("apart", cr2(cbind(model.matrix(~ achieved_depth_mm + tissue_mm + smoking + density_found + diameter_mm + length_mm, full), spline_terms(full$total, knots)[, -1]),
                  full$change, full$pid))
keep("knee", sapply(seq(quantile(sums$total, 0.1), quantile(sums$total, 0.9), by = 0.1), function(k) # at each place of the grid
    sum(lm.fit(cbind(1, pmin(sums$total, k), pmax(0, sums$total - k)), sums$change)$residuals^2)))

section("operators")
all[, session := .GRP, by = .(operator, placed, pid)]
sessions <- all[!is.na(operator), .(n = .N, failed = as.integer(any(early == 1, na.rm = TRUE)), known = any(!is.na(early)), softest = max(found, -Inf, na.rm = TRUE),
    smoker = any(smoking == "current", na.rm = TRUE), grafted = any(graft == "yes", na.rm = TRUE), error = mean(achieved_depth_mm - planned_depth_mm, na.rm = TRUE)),
    by = .(operator, placed, pid)][order(operator, placed, pid)]
for (o in unique(sessions$operator)) {
    own <- sessions[operator == o & is.finite(error)]
    old <- own[placed < year_start]
    centre <- mean(old$error); sigma <- mean(abs(diff(old$error))) / 1.128
    keep("single", own[abs(error - centre) > 3 * sigma])
    keep("average", { z <- stats::filter(0.2 * own$error, 0.8, "recursive", init = centre); i <- seq_along(z)
                      cbind(z, centre - 2.86 * sigma * sqrt(0.2 / 1.8 * (1 - 0.8^(2 * i))), centre + 2.86 * sigma * sqrt(0.2 / 1.8 * (1 - 0.8^(2 * i)))) })
    others <- sessions[operator != o & known & is.finite(softest)]
    patterns <- others[, .(failed = sum(failed), whole = sum(!failed)), by = .(softest, smoker, grafted, n)]
    fit <- glm(cbind(failed, whole) ~ softest + smoker + grafted + log2(n), binomial, patterns, method = "brglmFit", type = "MPL_Jeffreys")
    watched <- sessions[operator == o & known & is.finite(softest)]
    keep("expected", c(sum(watched$failed), sum(predict(fit, watched, type = "response"))))
    mine <- all[operator == o]
    mine[year_window, crest := i.mean, on = "row"]
    for (back in 11:0) for (months in c(3, 12)) {
        d <- mine[placed > last_day - (back * 3 + months) * month & placed <= last_day - back * 3 * month]
        if (nrow(d) < 20) next
        asks <- list(d$found >= 3, d$smoking == "current", d$graft == "yes", d$tooth %% 10 >= 4, d$within == 1, d$low == 1, !is.na(d$crest))
        keep("span", lapply(asks, function(y) { ok <- !is.na(y); if (sum(ok) > 1) clustered_share(as.numeric(y[ok]), d$pid[ok]) }))
        keep("span", list(clustered_quantile(d$torque[!is.na(d$torque)], d$pid[!is.na(d$torque)], 0.5),
                          if (sum(!is.na(d$crest)) > 1) clustered_mean(d$crest[!is.na(d$crest)], d$pid[!is.na(d$crest)])))
    }
    learning <- mine[!is.na(achieved_depth_mm) & !is.na(planned_depth_mm)][order(placed)]
    learning[, number := match(session, unique(session))]
    keep("learning", curve_of(learning$number, abs(learning$achieved_depth_mm - learning$planned_depth_mm), learning$pid))
}
for (y in c("error", "distance", "within", "low", "early", "change")) {
    all[, value := switch(y, error = achieved_depth_mm - planned_depth_mm, distance = abs(achieved_depth_mm - planned_depth_mm), all[[y]])]
    d <- all[!is.na(value) & !is.na(operator)]
    for (o in unique(d$operator)) keep("difference", mean_difference(d$value, as.numeric(d$operator == o), d$pid))
}
funnel <- all[!is.na(early), .(failed = max(early)), by = .(operator, pid)][, .(.N, failed = sum(failed)), by = operator]
keep("funnel", lapply(c(0.025, 0.975, 0.001, 0.999), function(p) qbinom(p, seq(5, max(funnel$N), length.out = 30), sum(funnel$failed) / sum(funnel$N))))

section("readers")
again <- readings[!is.na(level) & !is.na(film)]
pairs <- merge(again[reading == 1], again[reading == 2], by = c("row", "film", "reader"), suffixes = c("", "_2"), allow.cartesian = TRUE)
keep("repeat", pairs[, .(list(limits(level_2 - level, pid)), sqrt(sum((level_2 - level)^2) / (2 * .N)), cor(level, level_2)), by = reader])
two <- merge(again[reading == 1], again[reading == 1], by = c("row", "film"), suffixes = c("", "_2"), allow.cartesian = TRUE)[reader < reader_2]
keep("between", two[, .(list(limits(level_2 - level, pid)), cor(level, level_2)), by = .(reader, reader_2)])
keep("changes", if (nrow(year_window) > 1) clustered_mean(year_window$mean[!is.na(year_window$mean)], year_window$pid[!is.na(year_window$mean)]))

section("change against two earlier periods")
for (until in c(last_day - 91L, last_day - 365L)) {
    then <- fates(implants, until)
    of <- function(d, y) { d <- d[!is.na(get(y))]; list(d[[y]], d$pid) }
    then[, `:=`(d = achieved_depth_mm - planned_depth_mm, low = as.numeric(torque < 20), within = as.numeric(abs(achieved_depth_mm - planned_depth_mm) <= 0.5))]
    all[, d := achieved_depth_mm - planned_depth_mm]
    w <- at_window(windows[[3]], "placed", until)$at[!is.na(mean)]
    now <- all[!is.na(change), .(pid, mean = change, exposed)]
    w[, exposed := as.numeric(e_worse > 0.5)]
    pairs <- c(lapply(c("d", "within", "low", "early"), function(y) list(of(all[placed > last_day - 365], y), of(then[placed > until - 365], y))),
               lapply(c("mean", "exposed"), function(y) list(of(now, y), of(w, y))))
    for (p in pairs) keep("change", { y <- c(p[[2]][[1]], p[[1]][[1]]); list(if (length(p[[2]][[1]]) > 1) clustered_mean(p[[2]][[1]], p[[2]][[2]]),
        if (length(p[[1]][[1]]) > 1 && length(p[[2]][[1]]) > 1) mean_difference(y, rep(0:1, c(length(p[[2]][[1]]), length(p[[1]][[1]]))), c(p[[2]][[2]], p[[1]][[2]]))) })
    for (times in c("years", "years_known")) for (d in list(all, then)) {
        d <- copy(d)
        d[, t := get(times)]
        keep("curve", summary(survfit(Surv(t, failed) ~ 1, d, cluster = pid), times = c(1, 5), extend = TRUE))
    }
}

section("how many more")
keep("more", power.prop.test(p1 = 0.02, p2 = 0.01, power = 0.8))
section("the end")
cat(length(results), "analyses\n")
