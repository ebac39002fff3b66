# The audit's figures against R, recomputed from the base tables of a store (not from the program's queries): windows of
# time, ways of ending follow-up, classes and statistics are all written again here, from the analysis rules.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages({
    library(survival)
    library(survey)
    library(clubSandwich)
})

month <- 30.4375
least_patients <- 10
least_share <- 20

# --- base tables -------------------------------------------------------------------------------------------
read_sql <- function(store, sql) {
    rows <- suppressWarnings(system2("sqlite3", c("-csv", "-header", store, shQuote(sql)), stdout = TRUE))
    if (length(rows) == 0) return(NULL)
    read.csv(text = rows, na.strings = "", check.names = FALSE)
}

read_store <- function(store) {
    s <- list(
        implant = read_sql(store, "select * from implant"), reading = read_sql(store, "select * from reading"),
        event = read_sql(store, "select * from event"), cut = read_sql(store, "select * from class_cut"),
        doubt = read_sql(store, "select implant_id, patient_id, blocks from doubt where weight = 'contradiction' and blocks <> '' and state <> 'mended'"))
    setting <- read_sql(store, "select name, value from setting")
    s$setting <- setNames(as.list(as.character(setting$value)), setting$name)
    s$reading$reader[is.na(s$reading$reader)] <- ""
    s$reading$film[is.na(s$reading$film)] <- ""
    s
}

hundredths <- function(x) round(x * 100 + sign(x) * 1e-6)

classify <- function(cuts, value) {
    result <- rep(NA_character_, length(value))
    h <- hundredths(value)
    for (i in seq_len(nrow(cuts))) {
        low <- if (is.na(cuts$lower_cut[i])) -Inf else hundredths(cuts$lower_cut[i])
        high <- if (is.na(cuts$upper_cut[i])) Inf else hundredths(cuts$upper_cut[i])
        inside <- (h > low | (cuts$lower_included[i] == 1 & h == low)) & (h < high | (cuts$upper_included[i] == 1 & h == high))
        result[!is.na(inside) & inside & is.na(result)] <- cuts$label[i]
    }
    result
}

# Day arithmetic of the rules.
day <- function(text) as.integer(as.Date(text))
year_start <- function(last) {
    next_day <- as.POSIXlt(as.Date(last + 1, origin = "1970-01-01"))
    next_day$year <- next_day$year - 1
    if (next_day$mon == 1 && next_day$mday == 29) next_day$mday <- 28
    as.integer(as.Date(next_day))
}

# --- the cohort --------------------------------------------------------------------------------------------
cohort <- function(s, first, last) {
    d <- s$implant[!is.na(s$implant$placed_on) & s$implant$placed_on <= last, ]
    d <- d[order(d$patient_id, d$id), ]
    recall <- as.integer(s$setting$recall_interval_months)
    recall_days <- floor(recall * month)
    death_days <- floor((recall + 6) * month)
    since <- if (!nzchar(s$setting$complete_since) || is.na(s$setting$complete_since)) NA else day(s$setting$complete_since)
    cuts <- function(q) { x <- s$cut[s$cut$quantity == q & s$cut$valid_from <= last, ]
                          x <- x[x$valid_from == max(x$valid_from), ]; x[order(x$position), ] }
    d$depth_class <- classify(cuts("depth"), d$achieved_depth_mm)
    d$tissue_class <- classify(cuts("tissue"), d$tissue_mm)
    torque <- cuts("torque")
    d$torque_class <- classify(torque, d$final_torque_ncm)
    capped <- !is.na(d$final_torque_capped) & d$final_torque_capped == 1
    d$torque_class[capped & d$torque_class != tail(torque$label, 1)] <- NA
    d$density_found_class <- ifelse(is.na(d$density_found), NA, paste0(d$density_found_scale, d$density_found))
    front <- d$tooth %% 10 <= 3
    upper <- d$tooth %/% 10 <= 2
    d$region <- ifelse(is.na(d$tooth), NA, paste(ifelse(upper, "upper", "lower"), ifelse(front, "front", "back")))
    blocks <- sapply(seq_len(nrow(d)), function(i) paste(s$doubt$blocks[s$doubt$implant_id %in% d$id[i] |
        (is.na(s$doubt$implant_id) & s$doubt$patient_id %in% d$patient_id[i])], collapse = " "))
    for (section in c("depth", "stability", "crest", "survival")) d[[paste0("no_", section)]] <- grepl(section, blocks)
    d$loaded_on[!is.na(d$loaded_on) & d$loaded_on > last] <- -1L      # later than the period: not loaded yet
    d$loaded[!is.na(d$loaded_on) & d$loaded_on == -1L] <- 0L
    d$loaded_on[!is.na(d$loaded_on) & d$loaded_on == -1L] <- NA
    reading <- s$reading[s$reading$seen_on <= last, ]
    event <- if (is.null(s$event)) NULL else s$event[s$event$happened_on <= last, ]
    primary <- s$setting$primary_reader
    if (is.null(primary) || is.na(primary) || !nzchar(primary)) {
        first_readings <- reading[reading$reading == 1 & (!is.na(reading$level_mesial_mm) | !is.na(reading$level_distal_mm)), ]
        count <- table(first_readings$reader)
        primary <- if (length(count)) sort(names(count)[count == max(count)])[1] else ""
    }
    first_of <- function(i, kind) {
        e <- event[event$patient_id == d$patient_id[i] & event$event == kind & event$happened_on >= d$placed_on[i] &
                   (is.na(event$implant_id) | event$implant_id == d$id[i] | kind %in% c("died", "moved_away")), ]
        if (is.null(e) || nrow(e) == 0) NA else if (kind == "moved_away") max(e$happened_on) else min(e$happened_on)
    }
    n <- nrow(d)
    for (v in c("removed", "elective", "died", "moved")) d[[v]] <- NA_integer_
    d$seen_first <- d$seen_last <- d$seen_before <- NA_integer_
    films <- vector("list", n)
    for (i in seq_len(n)) {
        d$removed[i] <- first_of(i, "removed")
        d$elective[i] <- first_of(i, "elective")
        d$died[i] <- first_of(i, "died")
        d$moved[i] <- first_of(i, "moved_away")
        r <- reading[reading$implant_id == d$id[i] & reading$seen_on >= d$placed_on[i], ]
        d$seen_first[i] <- if (nrow(r)) min(r$seen_on) else NA
        d$seen_last[i] <- if (nrow(r)) max(r$seen_on) else d$placed_on[i]
        earlier <- r$seen_on[!is.na(d$removed[i]) & r$seen_on < d$removed[i]]
        d$seen_before[i] <- if (length(earlier)) max(earlier) else d$placed_on[i]
        r <- r[r$reading == 1 & (is.na(r$readable) | r$readable == 1), ]
        r <- r[!is.na(r$level_mesial_mm) | !is.na(r$level_distal_mm), ]
        gone <- suppressWarnings(min(d$removed[i], d$elective[i], na.rm = TRUE))
        r <- r[r$seen_on <= gone, ]
        r <- r[order(r$seen_on, r$reader != primary, r$reader, r$film), ]
        films[[i]] <- r[!duplicated(r$seen_on), ]
    }
    # fate
    removal <- pmin(ifelse(is.na(d$removed), Inf, d$removed), ifelse(is.na(d$elective), Inf, d$elective))
    removal_kind <- ifelse(!is.na(d$removed) & d$removed == removal, "removed", "elective")
    death <- ifelse(is.na(d$died), Inf, d$died)
    d$fate <- ifelse(is.finite(removal) & removal <= death, removal_kind,
              ifelse(is.finite(death), "died",
              ifelse(!is.na(d$moved) & d$moved >= d$seen_last, "moved away",
              ifelse(d$seen_last + recall_days < last, "lost", "in place"))))
    d$removal <- removal
    d$competing <- d$fate == "died" & d$died - d$seen_last <= death_days
    ends <- function(how) {
        end <- d$seen_last
        cause <- rep(0L, n)
        is <- d$fate %in% c("removed", "elective")
        end[is] <- removal[is]
        cause[d$fate == "removed"] <- 1L
        cause[d$fate == "elective"] <- 3L
        end[d$competing] <- d$died[d$competing]
        cause[d$competing] <- 2L
        here <- d$fate == "in place" & how != "last sighting"
        end[here] <- last
        gone <- d$fate == "lost"
        if (how == "recall") end[gone] <- pmin(last, d$seen_last[gone] + recall_days)
        if (how == "worst case") { end[gone] <- d$seen_last[gone] + 1L; cause[gone] <- 1L }
        if (how == "best case") end[gone] <- last
        late <- !is.na(since) & d$placed_on < since
        entry <- ifelse(late, d$seen_first - d$placed_on, 0)
        exit <- end - d$placed_on
        data.frame(entry = entry, exit = exit, cause = cause, there = !is.na(entry) & (entry == 0 | entry < exit))
    }
    d$analysed <- !d$no_survival & ends("recall")$there
    list(d = d, films = films, ends = ends, readings = s$reading, placed = setNames(s$implant$placed_on, s$implant$id),
         undated = sum(is.na(s$implant$placed_on)), later = sum(s$implant$placed_on > last, na.rm = TRUE), first = first, last = last, since = since, year = year_start(last),
         closing = min(first, year_start(last)), cuts = cuts)
}

# --- expected rows -----------------------------------------------------------------------------------------
rows <- new.env()

cell_name <- function(measure, field, grouping, level, baseline, site, unit)
    list(paste(measure, field), paste(grouping, level, baseline, site, unit, sep = ";"))

want <- function(measure, grouping = "", level = "", at = NA, baseline = "", site = "", unit = "implant", ...) {
    fields <- list(...)
    near <- grepl("^near_", names(fields))                  # from an optimiser: agreement to its own precision
    if (any(near)) {
        scale <- if (is.null(fields$near_upper)) 0 else (fields$near_upper - fields$near_lower) / 4      # an error
        for (field in names(fields)[near]) rows$near[[length(rows$near) + 1]] <-
            { name <- cell_name(measure, sub("near_", "", field), grouping, level, baseline, site, unit)
              expect(name[[1]], name[[2]], at, fields[[field]], scale) }
        fields <- fields[!near]
    }
    for (field in names(fields)) {
        scale <- if (field %in% c("value", "lower", "upper") && is.finite(fields$lower %||% NA) && is.finite(fields$upper %||% NA))
                     abs(fields$upper - fields$lower) / 1000 else 0
        name <- cell_name(measure, field, grouping, level, baseline, site, unit)
        rows$all[[length(rows$all) + 1]] <- expect(name[[1]], name[[2]], at, fields[[field]], scale)
    }
}
`%||%` <- function(a, b) if (is.null(a)) b else a

observed <- function(store, from, to) {
    file <- file.path(oracle$folder, "figures.csv")
    status <- system2(Sys.getenv("RIDGETALLY"), c("figures", "--store", store, "--from", from, "--to", to), stdout = file)
    f <- read.csv(file, na.strings = "", check.names = FALSE, colClasses = "character")
    for (v in c("grouping", "level", "baseline", "site", "unit_of_analysis")) f[[v]][is.na(f[[v]])] <- ""
    fields <- c(value = "value", lower = "lower", upper = "upper", p = "p", n = "n_implants", patients = "n_patients",
                events = "n_events", due = "n_due")
    do.call(rbind, lapply(names(fields), function(field) {
        name <- cell_name(f$measure, field, f$grouping, f$level, f$baseline, f$site, f$unit_of_analysis)
        data.frame(quantity = name[[1]], group = name[[2]], at = as.numeric(f$at), value = as.numeric(f[[fields[[field]]]]))
    }))
}

few <- function(patients, implants = Inf, share = FALSE) patients < least_patients || (share && implants < least_share)
blank <- function(e, is_few) if (is_few) list(value = NA_real_, lower = NA_real_, upper = NA_real_) else e[intersect(c("value", "lower", "upper"), names(e))]

# --- statistics --------------------------------------------------------------------------------------------
cr2_mean <- function(y, cluster) {
    if (length(unique(cluster)) < 2) return(list(value = if (length(y)) mean(y) else NA, lower = NA, upper = NA))
    fit <- lm(y ~ 1)
    test <- tryCatch(coef_test(fit, vcovCR(fit, cluster, type = "CR2"), test = "Satterthwaite"), error = function(e) NULL)
    half <- qt(0.975, test$df[1]) * test$SE[1]
    list(value = mean(y), lower = mean(y) - half, upper = mean(y) + half)
}

cr2_slope <- function(formula, data, cluster, term, null = 0) {
    fit <- lm(formula, data)
    test <- coef_test(fit, vcovCR(fit, cluster, type = "CR2"), test = "Satterthwaite")
    i <- match(term, rownames(test))
    half <- qt(0.975, test$df[i]) * test$SE[i]
    list(value = test$beta[i], lower = test$beta[i] - half, upper = test$beta[i] + half,
         p = 2 * pt(-abs((test$beta[i] - null) / test$SE[i]), test$df[i]))
}

share <- function(y, cluster, independent = FALSE) {
    n <- length(y)
    events <- sum(y)
    clusters <- length(unique(cluster))
    if (n == 0) return(list(value = NA, lower = NA, upper = NA, events = 0))
    if (events == 0 || events == n) {
        limits <- binom.test(if (events == 0) 0 else clusters, clusters)$conf.int
        return(list(value = events / n, lower = limits[1], upper = limits[2], events = events))
    }
    if (clusters < 2) return(list(value = events / n, lower = NA, upper = NA, events = events))
    design <- svydesign(ids = ~cluster, weights = ~1, data = data.frame(y = y, cluster = cluster))
    limits <- if (independent) binom.test(events, n)$conf.int else as.numeric(attr(svyciprop(~y, design, method = "beta"), "ci"))
    list(value = events / n, lower = limits[1], upper = limits[2], events = events)
}

woodruff <- function(y, cluster, p = 0.5) {
    n <- length(y)
    clusters <- length(unique(cluster))
    if (n == 0) return(list(value = NA, lower = NA, upper = NA))
    q <- unname(quantile(y, p, type = 7))
    if (clusters < 2) return(list(value = q, lower = NA, upper = NA))
    below <- y <= q
    error <- sqrt(clusters / (clusters - 1) * sum(tapply(below - mean(below), cluster, sum)^2)) / n
    limit <- function(at) if (at < 0 || at > 1) NA else unname(quantile(y, at, type = 7))
    half <- qt(0.975, clusters - 1) * error
    list(value = q, lower = limit(p - half), upper = limit(p + half))
}

capped_quantile <- function(y, capped, cluster, p) {
    if (length(y) == 0) return(list(value = NA, lower = NA, upper = NA))
    clusters <- length(unique(cluster))
    fit <- survfit(Surv(y, !capped) ~ 1)
    inverse <- function(target) {
        if (is.na(target) || target < 0 || target > 1) return(NA)
        at <- which(fit$surv <= target + 1e-12)[1]
        if (is.na(at)) return(NA)
        same <- which(abs(fit$surv - target) < 1e-12)
        if (length(same)) { following <- which(fit$surv < target - 1e-12)[1]
                            return((fit$time[same[1]] + (if (is.na(following)) max(fit$time) else fit$time[following])) / 2) }
        fit$time[at]
    }
    value <- inverse(1 - p)
    if (is.na(value) || clusters < 2) return(list(value = value, lower = NA, upper = NA))
    robust <- survfit(Surv(y, !capped) ~ 1, cluster = cluster)
    s <- summary(robust, times = value, extend = TRUE)
    half <- qt(0.975, clusters - 1) * s$std.err * sqrt(clusters / (clusters - 1))
    if (half < 1e-12) return(list(value = value))          # no error to be seen: no limits
    list(value = value, lower = inverse(1 - p + half), upper = inverse(1 - p - half))
}

jackknife <- function(statistic, cluster) {
    replicates <- sapply(unique(cluster), function(c) statistic(cluster != c))
    count <- length(replicates)
    sqrt((count - 1) / count * sum((replicates - mean(replicates))^2))
}

bounded <- function(value, error, clusters) {
    z <- atanh(value)
    ez <- error / (1 - value^2)
    half <- qt(0.975, clusters - 1) * ez
    list(value = value, lower = tanh(z - half), upper = tanh(z + half), p = 2 * pt(-abs(z / ez), clusters - 1))
}

# Signs of pairs, 0 where the order is tied or a cap leaves it open.
pair_signs <- function(y, capped = rep(FALSE, length(y))) {
    s <- sign(outer(y, y, "-"))
    open <- outer(seq_along(y), seq_along(y), function(i, j) (y[i] < y[j] & capped[i]) | (y[j] < y[i] & capped[j]) |
                  (capped[i] & capped[j]))
    tied_cap <- outer(seq_along(y), seq_along(y), function(i, j) y[i] == y[j] & xor(capped[i], capped[j]))
    s[open] <- 0
    s[tied_cap] <- (outer(capped, capped, "-"))[tied_cap]      # at least 70 is above exactly 70
    s
}

ranks_of <- function(x, y, capped) {
    sx <- pair_signs(x)
    sy <- pair_signs(y, capped)
    tau <- function(keep) { a <- sx[keep, keep]; b <- sy[keep, keep]; sum(a * b) / sqrt(as.numeric(sum(a != 0)) * sum(b != 0)) }
    rho <- function(keep) cor(rowSums(sx[keep, keep]), rowSums(sy[keep, keep]))
    list(tau = tau, rho = rho, sy = sy)
}

kappa_of <- function(a, b, weight, levels = 4) {
    w <- 1 - outer(seq_len(levels), seq_len(levels), function(i, j) abs(i - j)^weight) / (levels - 1)^weight
    function(keep) {
        t <- table(factor(a[keep], seq_len(levels)), factor(b[keep], seq_len(levels))) / sum(keep)
        expected <- outer(rowSums(t), colSums(t))
        (sum(w * t) - sum(w * expected)) / (1 - sum(w * expected))
    }
}

# Bland and Altman (1999), section 5.3: between and within patients, with the jackknife by patient.
agreement_of <- function(d, cluster) {
    function(keep) {
        y <- d[keep]; g <- cluster[keep]
        n <- length(y); sizes <- table(as.character(g)); k <- length(sizes)
        means <- tapply(y, as.character(g), mean)
        within_ss <- sum((y - means[as.character(g)])^2)
        between_ms <- sum(sizes * (means - mean(y))^2) / (k - 1)
        if (n == k) return(c(mean(y), sqrt(between_ms)))
        within_ms <- within_ss / (n - k)
        between <- max(0, (between_ms - within_ms) / ((n - sum(sizes^2) / n) / (k - 1)))
        c(mean(y), sqrt(between + within_ms))
    }
}

# --- sections ----------------------------------------------------------------------------------------------
expect_flow <- function(c) {
    d <- c$d
    observed <- c$ends("recall")$there
    want("excluded", "reason", "contradiction", value = sum(d$no_survival), events = sum(!is.na(d$removed) & d$no_survival))
    want("excluded", "reason", "not under observation", value = sum(!d$no_survival & !observed))
    want("excluded", "reason", "no placement date", value = c$undated)
    want("excluded", "reason", "placed after the period", value = c$later)
    for (section in c("depth", "stability", "crest"))
        want("excluded", "section|reason", paste0(section, "|contradiction"), value = sum(d[[paste0("no_", section)]]))
    for (field in c("tooth", "operator", "diameter_mm", "length_mm", "planned_depth_mm", "achieved_depth_mm", "depth_source", "density_planned",
                    "density_found", "stalled", "final_torque_ncm", "tissue_mm", "smoking", "loaded")) {
        filled <- if (field == "loaded") !is.na(d$loaded_on) | d$loaded %in% 0 else !is.na(d[[field]])
        want("field_recorded", "window|field", paste0("all|", field), value = mean(filled), events = sum(filled))
    }
    for (w in list(c("period", c$first), c("12 months", c$year), c("all", -1e6))) {
        x <- d[d$placed_on >= as.numeric(w[2]), ]
        want("recorded", "window", w[1], value = nrow(x), patients = length(unique(x$patient_id)))
    }
    a <- d[d$analysed, ]
    want("analysed", value = nrow(a), patients = length(unique(a$patient_id)))
    want("followed", value = sum(a$seen_last > a$placed_on))
    for (f in c("in place", "lost", "removed", "elective", "died", "moved away"))
        want("status", "status", f, value = sum(a$fate == f), patients = length(unique(a$patient_id[a$fate == f])))
    years <- as.POSIXlt(as.Date(d$placed_on, origin = "1970-01-01"))$year + 1900
    last <- c$ends("last sighting")
    for (y in c(NA, sort(unique(years)))) {
        here <- d$analysed & (is.na(y) | years == y)
        if (!any(here)) next
        level <- if (is.na(y)) "" else as.character(y)
        grouping <- if (is.na(y)) "" else "year"
        e <- share(as.numeric(d$fate[here] != "lost"), d$patient_id[here])
        is_few <- few(length(unique(d$patient_id[here])), sum(here), TRUE)
        do.call(want, c(list("completeness", grouping, level, n = sum(here), events = e$events), blank(e, is_few)))
        possible <- ifelse(last$cause[here] == 0, c$last - d$placed_on[here], last$exit[here]) - last$entry[here]
        want("follow_up_index", grouping, level, value = sum(last$exit[here] - last$entry[here]) / sum(possible))
    }
    here <- d$analysed & last$there
    start <- ifelse(last$entry[here] == 0, -1, last$entry[here])
    fit <- survfit(Surv(start, last$exit[here], last$cause[here] == 0) ~ 1, cluster = d$patient_id[here], conf.type = "log-log")
    q <- quantile(fit, 0.5)
    want("median_follow_up", value = unname(q$quantile) / month, lower = unname(q$lower) / month, upper = unname(q$upper) / month)
}

groupings_of <- list(operator = "operator", density_found = "density_found_class", region = "region",
                     depth_class = "depth_class", tissue_class = "tissue_class", torque_class = "torque_class", smoking = "smoking",
                     implant_line = "implant_line")

expect_depth <- function(c) {
    for (w in list(c("period", c$first), c("12 months", c$year))) {
        d <- c$d[c$d$placed_on >= as.numeric(w[2]) & !c$d$no_depth, ]
        d$error <- d$achieved_depth_mm - d$planned_depth_mm
        for (by in c("", "operator", "density_found", "region")) {
            g <- if (by == "") rep("", nrow(d)) else d[[groupings_of[[by]]]]
            for (level in sort(unique(na.omit(g)))) {
                x <- d[!is.na(g) & g == level & !is.na(d$error), ]
                due <- sum(!is.na(g) & g == level)
                grouping <- if (by == "") "window" else paste0("window|", by)
                name <- if (by == "") w[1] else paste0(w[1], "|", level)
                patients <- length(unique(x$patient_id))
                is_few <- few(patients)
                do.call(want, c(list("depth_bias", grouping, name, n = nrow(x), patients = patients, due = due),
                                blank(if (is_few) list() else cr2_mean(x$error, x$patient_id), is_few)))
                e <- share(as.numeric(abs(hundredths(x$error)) <= 50), x$patient_id)
                do.call(want, c(list("depth_within_half", grouping, name, events = e$events), blank(e, few(patients, nrow(x), TRUE))))
                if (!is_few) {
                    do.call(want, c(list("depth_mean_absolute", grouping, name), cr2_mean(abs(x$error), x$patient_id)))
                    f <- agreement_of(x$error, x$patient_id)
                    all <- f(rep(TRUE, nrow(x)))
                    replicates <- sapply(unique(x$patient_id), function(one) f(x$patient_id != one))
                    count <- ncol(replicates)
                    error <- sqrt((count - 1) / count * sum((replicates[2, ] - mean(replicates[2, ]))^2))
                    half <- qt(0.975, patients - 1) * error / all[2]
                    sd <- all[2] * exp(c(0, -half, half))
                    bias <- unlist(cr2_mean(x$error, x$patient_id))
                    r <- suppressWarnings(cor(replicates[1, ], replicates[2, ]))
                    if (half > 1e-12) {
                        want("depth_sd", grouping, name, value = sd[1], lower = sd[2], upper = sd[3])
                        for (sign in c(-1, 1)) {                       # Zou (2013), with the correlation of the two errors
                            down <- bias[1] - bias[2]; up <- bias[3] - bias[1]
                            s_down <- 1.96 * if (sign < 0) sd[3] - sd[1] else sd[1] - sd[2]
                            s_up <- 1.96 * if (sign < 0) sd[1] - sd[2] else sd[3] - sd[1]
                            value <- bias[1] + sign * 1.96 * sd[1]
                            want(if (sign < 0) "depth_limit_lower" else "depth_limit_upper", grouping, name, value = value,
                                 lower = value - sqrt(down^2 + s_down^2 + 2 * sign * r * down * s_down),
                                 upper = value + sqrt(up^2 + s_up^2 + 2 * sign * r * up * s_up))
                        }
                    }
                }
                if (by == "operator" && !is_few) {
                    y <- d[!is.na(d$error) & !is.na(d$operator), ]
                    y$second <- as.numeric(y$operator == level)
                    if (length(unique(y$patient_id[y$second == 0])) >= least_patients)
                        do.call(want, c(list("depth_operator_difference", grouping, name),
                                        cr2_slope(error ~ second, y, y$patient_id, "second")))
                }
            }
        }
    }
}

expect_stability <- function(c) {
    for (w in list(c("period", c$first), c("12 months", c$year))) {
        d <- c$d[c$d$placed_on >= as.numeric(w[2]) & !c$d$no_stability, ]
        d$capped <- !is.na(d$final_torque_capped) & d$final_torque_capped == 1
        for (by in c("", "density_found")) {
            g <- if (by == "") rep("", nrow(d)) else d$density_found_class
            for (level in sort(unique(na.omit(g)))) {
                x <- d[!is.na(g) & g == level & !is.na(d$final_torque_ncm), ]
                grouping <- if (by == "") "window" else "window|density_found"
                name <- if (by == "") w[1] else paste0(w[1], "|", level)
                patients <- length(unique(x$patient_id))
                want("torque_recorded", grouping, name, value = nrow(x), due = sum(!is.na(g) & g == level))
                want("torque_capped", grouping, name, value = sum(x$capped))
                for (q in list(c("torque_quartile_lower", 0.25), c("torque_median", 0.5), c("torque_quartile_upper", 0.75)))
                    do.call(want, c(list(q[1], grouping, name), blank(
                        if (few(patients)) list() else capped_quantile(x$final_torque_ncm, x$capped, x$patient_id, as.numeric(q[2])),
                        few(patients))))
            }
        }
        for (size in list(c("diameter", "diameter_mm"), c("length", "length_mm"))) {
            x <- d[!is.na(d$final_torque_ncm) & !is.na(d[[size[2]]]), ]
            expect_ranks(x[[size[2]]], x, paste0("torque_", size[1], "_spearman"), paste0("torque_", size[1], "_tau_b"), "window", w[1])
        }
        for (scale in c("D", "LZ")) {
            x <- d[!is.na(d$density_found) & d$density_found_scale == scale, ]
            name <- paste0(w[1], "|", scale)
            if (nrow(x) == 0) next
            y <- x[!is.na(x$final_torque_ncm), ]
            expect_ranks(y$density_found, y, "torque_density_spearman", "torque_density_tau_b", "window|density_scale", name)
            expect_trend(y, name)
            z <- x[!is.na(x$density_planned) & x$density_planned_scale == scale, ]
            patients <- length(unique(z$patient_id))
            e <- share(as.numeric(z$density_planned == z$density_found), z$patient_id)
            do.call(want, c(list("density_same", "window|density_scale", name, n = nrow(z), events = e$events),
                            blank(e, few(patients, nrow(z), TRUE))))
            if (few(patients)) next
            for (k in list(c("density_kappa", 1), c("density_kappa_quadratic", 2))) {
                f <- kappa_of(z$density_planned, z$density_found, as.numeric(k[2]))
                e <- bounded(f(rep(TRUE, nrow(z))), jackknife(f, z$patient_id), patients)
                do.call(want, c(list(k[1], "window|density_scale", name), e))
            }
        }
        cut <- min(c$cuts("torque")$upper_cut, na.rm = TRUE)
        x <- d[!is.na(d$final_torque_ncm) & !(d$capped & d$final_torque_ncm < cut), ]
        low <- !x$capped & hundredths(x$final_torque_ncm) < hundredths(cut)
        e <- share(as.numeric(low), x$patient_id)
        do.call(want, c(list("low_torque", "window", w[1], n = nrow(x), events = e$events),
                        blank(e, few(length(unique(x$patient_id)), nrow(x), TRUE))))
        outcome <- ifelse(x$fate == "removed", ifelse(x$removed - x$placed_on <= 180, "removed within 180 days", "removed later"), x$fate)
        for (o in c("in place", "removed within 180 days", "removed later", "elective", "died", "moved away", "lost"))
            want("low_torque_outcome", "window|outcome", paste0(w[1], "|", o), value = sum(low & outcome == o))
    }
    for (w in list(c("period", c$first), c("12 months", c$year), c("all", -1e6))) {
        d <- c$d[c$d$placed_on >= as.numeric(w[2]) & !c$d$no_stability, ]
        stalled <- !is.na(d$stalled) & d$stalled == 1
        known <- stalled & !is.na(d$final_torque_ncm) & !is.na(d$stall_height_mm) & !is.na(d$stall_torque_ncm) &
                 !(d$stall_torque_capped %in% 1) & !is.na(d$achieved_depth_mm)
        want("torque_slope_cases", "window|status", paste0(w[1], "|usable"), value = sum(known), due = nrow(d))
        want("torque_slope_cases", "window|status", paste0(w[1], "|no final torque"), value = sum(stalled & is.na(d$final_torque_ncm)))
        want("torque_slope_cases", "window|status", paste0(w[1], "|never stalled"), value = sum(d$stalled %in% 0))
        x <- d[known & !(d$final_torque_capped %in% 1), ]
        if (length(unique(x$patient_id)) < least_patients) next
        x$gain <- x$final_torque_ncm - x$stall_torque_ncm
        x$travel <- x$stall_height_mm + x$achieved_depth_mm
        do.call(want, c(list("torque_per_mm", "window", w[1], n = nrow(x)), cr2_slope(gain ~ travel, x, x$patient_id, "travel")[1:3]))
        do.call(want, c(list("torque_per_mm_origin", "window", w[1], n = nrow(x)), cr2_slope(gain ~ 0 + travel, x, x$patient_id, "travel")[1:3]))
    }
}

expect_ranks <- function(x, d, spearman, tau, grouping, name) {
    patients <- length(unique(d$patient_id))
    if (few(patients) || length(unique(x)) < 2) return()
    r <- ranks_of(x, d$final_torque_ncm, d$capped)
    all <- rep(TRUE, nrow(d))
    do.call(want, c(list(spearman, grouping, name, n = nrow(d)), bounded(r$rho(all), jackknife(r$rho, d$patient_id), patients)))
    do.call(want, c(list(tau, grouping, name, n = nrow(d)), bounded(r$tau(all), jackknife(r$tau, d$patient_id), patients)))
}

expect_trend <- function(d, name) {
    patients <- length(unique(d$patient_id))
    if (few(patients)) return()
    signs <- pair_signs(d$final_torque_ncm, d$capped)
    softer <- outer(d$density_found, d$density_found, ">")
    trend <- function(keep) -sum(signs[keep, keep] * softer[keep, keep]) / sum(softer[keep, keep])
    do.call(want, c(list("torque_density_trend", "window|density_scale", name, n = nrow(d)),
                    bounded(trend(rep(TRUE, nrow(d))), jackknife(trend, d$patient_id), patients)))
}

windows <- data.frame(nominal = c(3, 6, 12, 24, 36, 60), low = c(2, 4.5, 9, 18, 30, 48), high = c(4.5, 9, 18, 30, 48, 72))

film_near <- function(f, from, to, wanted) {
    f <- f[f$seen_on >= from & f$seen_on < to, ]
    if (nrow(f) == 0) NULL else f[order(abs(f$seen_on - wanted), f$seen_on)[1], ]
}

# Changes and exposures of one window for every implant of the cohort.
resolve <- function(c, baseline, w) {
    d <- c$d
    start <- if (baseline == "placement") d$placed_on else d$loaded_on
    out <- data.frame(start = start, closes = ceiling(start + windows$high[w] * month) - 1,
                      c_m = NA_real_, c_d = NA_real_, e_m = NA_real_, e_d = NA_real_)
    for (i in which(!is.na(start))) {
        f <- c$films[[i]]
        b <- if (baseline == "placement") film_near(f, start[i], start[i] + 31, start[i]) else film_near(f, start[i] - 30, start[i] + 61, start[i])
        l <- film_near(f, start[i] + windows$low[w] * month, start[i] + windows$high[w] * month, start[i] + windows$nominal[w] * month)
        if (is.null(l)) next
        out$e_m[i] <- max(0, -l$level_mesial_mm)
        out$e_d[i] <- max(0, -l$level_distal_mm)
        if (is.null(b) || b$level_kind != l$level_kind) next
        out$c_m[i] <- l$level_mesial_mm - b$level_mesial_mm
        out$c_d[i] <- l$level_distal_mm - b$level_distal_mm
    }
    out
}

expect_crest <- function(c) {
    d <- c$d
    for (baseline in c("placement", "loading")) for (w in 1:6) {
        x <- resolve(c, baseline, w)
        x$c_mean <- (x$c_m + x$c_d) / 2
        x$c_worse <- pmin(x$c_m, x$c_d)
        x$e_worse <- pmax(x$e_m, x$e_d)
        for (records in c("12 months", "all")) {
            due <- !is.na(x$start) & !d$no_crest & x$closes <= c$last & (records == "all" | x$closes >= c$closing)
            at <- windows$nominal[w]
            gone <- pmin(ifelse(is.na(d$removed), Inf, d$removed), ifelse(is.na(d$elective), Inf, d$elective), ifelse(is.na(d$died), Inf, d$died))
            status <- ifelse(!is.na(x$c_mean), "read", ifelse(gone <= x$closes, "removed or died first",
                      ifelse(d$seen_last < x$start + windows$low[w] * month, "lost", "unread")))
            for (st in c("read", "unread", "lost", "removed or died first"))
                want("crest_flow", "window|status", paste0(records, "|", st), at, baseline, value = sum(due & status == st))
            want("crest_flow", "window|status", paste0(records, "|due"), at, baseline, value = sum(due))
            readers <- length(unique(d$patient_id[due]))
            do.call(want, c(list("read_share", "window", records, at, baseline, n = sum(due)), blank(
                if (few(readers, sum(due), TRUE)) list() else share(as.numeric(status[due] == "read"), d$patient_id[due]), few(readers, sum(due), TRUE))))
            for (by in c("", "depth_class", "tissue_class", "depth_class|tissue_class")) {
                g <- switch(by, `depth_class|tissue_class` = ifelse(is.na(d$depth_class) | is.na(d$tissue_class), NA,
                            paste0(d$depth_class, "|", d$tissue_class)), if (by == "") rep("", nrow(d)) else d[[by]])
                for (level in unique(na.omit(g[due]))) {
                    here <- due & !is.na(g) & g == level
                    grouping <- if (by == "") "window" else paste0("window|", by)
                    name <- if (by == "") records else paste0(records, "|", level)
                    for (v in list(c("mean", "c_mean"), c("worse", "c_worse"))) {
                        y <- x[[v[2]]][here]; p <- d$patient_id[here][!is.na(y)]; y <- y[!is.na(y)]
                        is_few <- few(length(unique(p)))
                        do.call(want, c(list("crest_change", grouping, name, at, baseline, v[1], n = length(y), due = sum(here)),
                                        blank(if (is_few) list() else cr2_mean(y, p), is_few)))
                    }
                    y <- x$e_worse[here]; p <- d$patient_id[here][!is.na(y)]; y <- y[!is.na(y)]
                    patients <- length(unique(p))
                    do.call(want, c(list("exposure_median", grouping, name, at, baseline, "worse", n = length(y)),
                                    blank(if (few(patients)) list() else woodruff(y, p), few(patients))))
                    e <- share(as.numeric(hundredths(y) > 50), p)
                    do.call(want, c(list("exposure_share", grouping, name, at, baseline, "worse", events = e$events),
                                    blank(e, few(patients, length(y), TRUE))))
                }
            }
        }
    }
}

# --- models ------------------------------------------------------------------------------------------------
# Harrell's restricted cubic spline.
spline_terms <- function(x, knots) {
    k <- length(knots)
    up <- function(u) pmax(u, 0)^3
    terms <- sapply(seq_len(k - 2), function(j) (up(x - knots[j]) - up(x - knots[k - 1]) * (knots[k] - knots[j]) / (knots[k] - knots[k - 1]) +
           up(x - knots[k]) * (knots[k - 1] - knots[j]) / (knots[k] - knots[k - 1])) / (knots[k] - knots[1])^2)
    matrix(terms, nrow = length(x))
}

expect_models <- function(c) {
    d <- c$d
    x <- resolve(c, "placement", 3)
    d$change <- (x$c_m + x$c_d) / 2
    d$level <- NA
    for (i in which(!is.na(d$change))) {
        f <- c$films[[i]]
        start <- d$placed_on[i]
        l <- film_near(f, start + 9 * month, start + 18 * month, start + 12 * month)
        d$level[i] <- (l$level_mesial_mm + l$level_distal_mm) / 2
    }
    closed <- !d$no_crest & x$closes <= c$last
    for (records in c("all", "12 months")) {
        y <- d[closed & (records == "all" | x$closes >= c$closing) & !is.na(d$change) & !is.na(d$achieved_depth_mm) &
               !is.na(d$tissue_mm) & !is.na(d$smoking) & !is.na(d$density_found), ]
        scale <- if (sum(y$density_found_scale == "LZ") > sum(y$density_found_scale == "D")) "LZ" else "D"
        y <- y[y$density_found_scale == scale, ]
        surgery <- y$depth_source %in% "surgery"
        by_surgery <- sum(surgery) >= sum(!surgery)
        y <- y[surgery == by_surgery, ]
        if (few(length(unique(y$patient_id)))) next
        y$depth <- y$achieved_depth_mm - mean(y$achieved_depth_mm)
        y$tissue <- y$tissue_mm - mean(y$tissue_mm)
        y$smoke <- factor(y$smoking, c("never", "former", "current"))
        y$density <- factor(y$density_found, 1:4)
        y$smoke <- droplevels(y$smoke); y$density <- droplevels(y$density)
        right <- c("depth", "tissue", if (nlevels(y$smoke) > 1) "smoke", if (nlevels(y$density) > 1) "density", "depth:tissue")
        ours <- function(term) {
            term <- sub("^[(]Intercept[)]$", "intercept", term)
            term <- sub("^depth:tissue$", "achieved_depth_mm x tissue_mm", term)
            term <- sub("^depth$", "achieved_depth_mm", term)
            term <- sub("^tissue$", "tissue_mm", term)
            term <- sub("^smoke", "smoking=", term)
            sub("^density([1-4])$", paste0("density_found=", scale, "\\1"), term)
        }
        want("crest_model_centre", "window|term", paste0(records, "|achieved_depth_mm"), 12, "placement", "mean", value = mean(y$achieved_depth_mm))
        want("crest_model_centre", "window|term", paste0(records, "|tissue_mm"), 12, "placement", "mean", value = mean(y$tissue_mm))
        ls <- lm(reformulate(right, "change"), y)
        if (anyNA(coef(ls))) next
        if (!by_surgery) expect_reliability(c, y, setdiff(right, c("depth", "depth:tissue")), records)
        lonely <- function(f) any(tapply(y$patient_id, f, function(p) length(unique(p))) < 2)
        robust <- coef_test(ls, vcovCR(ls, y$patient_id, type = "CR2"), test = "Satterthwaite")
        # a level with one patient: that patient alone decides its coefficient, and we give no error for it
        for (i in if (lonely(y$smoke) || lonely(y$density)) integer(0) else seq_len(nrow(robust))) {
            half <- qt(0.975, robust$df[i]) * robust$SE[i]
            want("crest_model_cr2", "window|term", paste0(records, "|", ours(names(coef(ls))[i])), 12, "placement", "mean",
                 value = robust$beta[i], lower = robust$beta[i] - half, upper = robust$beta[i] + half, n = nrow(y))
        }
        for (model in c("change", "level")) {
            fit <- suppressMessages(lmerTest::lmer(reformulate(c(right, "(1 | patient_id)"), model), y,
                control = lme4::lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12), check.conv.singular = "ignore")))
            sd <- as.data.frame(lme4::VarCorr(fit))$sdcor
            # the boundary: degrees of freedom are not comparable; hardly more rows than terms: no optimum inside
            if (sd[1] < 1e-3 || nrow(y) - length(coef(ls)) < 10) next
            table <- coef(summary(fit, ddf = "Satterthwaite"))
            if (model == "change" && by_surgery) {                     # by the model whose limits are given
                i <- if (length(unique(y$patient_id)) < 60) NA else match("depth", rownames(table))
                k <- match("depth", names(coef(ls)))
                slope <- if (is.na(i)) c(robust$beta[k], robust$SE[k], robust$df[k]) else table[i, c("Estimate", "Std. Error", "df")]
                limits <- slope[[1]] + c(-1, 1) * qt(0.975, slope[[3]]) * slope[[2]]
                if (slope[[3]] > 2.1 && !lonely(y$smoke) && !lonely(y$density))
                    want("depth_verdict", "window", records, 12, "placement", "mean", value = if (limits[2] < 0) -1 else if (limits[1] > 0) 1 else 0)
            }
            for (i in seq_len(nrow(table))) {
                if (model == "level" && rownames(table)[i] == "depth" && !by_surgery) next
                # with fewer than 60 patients we give least squares instead, on less than 2 df no limits
                if (length(unique(y$patient_id)) < 60 || table[i, "df"] < 2.1) next
                half <- qt(0.975, table[i, "df"]) * table[i, "Std. Error"]
                want(if (model == "change") "crest_model" else "level_model", "window|term", paste0(records, "|", ours(rownames(table)[i])),
                     12, "placement", "mean", near_value = table[i, "Estimate"], near_lower = table[i, "Estimate"] - half,
                     near_upper = table[i, "Estimate"] + half, n = nrow(y))
            }
            if (model == "change") {
                want("crest_model_sd_between", "window", records, 12, "placement", "mean", near_value = sd[1])
                want("crest_model_sd_within", "window", records, 12, "placement", "mean", near_value = sd[2])
                want("crest_model_icc", "window", records, 12, "placement", "mean", near_value = sd[1]^2 / (sd[1]^2 + sd[2]^2))
            }
        }
    }
    y <- d[closed & !is.na(d$change) & !is.na(d$achieved_depth_mm), ]
    surgery <- y$depth_source %in% "surgery"
    y <- y[surgery == (sum(surgery) >= sum(!surgery)), ]
    q <- if (nrow(y) < 100) c(0.1, 0.5, 0.9) else c(0.05, 0.35, 0.65, 0.95)
    knots <- unname(quantile(y$achieved_depth_mm, q, type = 7))
    if (few(length(unique(y$patient_id))) || any(duplicated(knots))) return()
    basis <- function(x) cbind(1, x, spline_terms(x, knots))
    b <- basis(y$achieved_depth_mm)
    fit <- lm(y$change ~ 0 + b)
    v <- vcovCR(fit, y$patient_id, type = "CR2")
    for (at in seq(ceiling(quantile(y$achieved_depth_mm, 0.05) * 10 - 1e-6), floor(quantile(y$achieved_depth_mm, 0.95) * 10 + 1e-6))) {
        w <- basis(at / 10)
        t <- linear_contrast(fit, v, w)
        want("crest_dose_response", "window", "all", at / 10, "placement", "mean", value = t$value, lower = t$lower, upper = t$upper)
    }
}

# Depth read from film: the error of repeated readings of baseline films against the spread of depth that the other terms leave.
expect_reliability <- function(c, y, right, records) {
    r <- c$readings[c$readings$seen_on <= c$last & (is.na(c$readings$readable) | c$readings$readable == 1), ]
    r$level <- (r$level_mesial_mm + r$level_distal_mm) / 2
    r$placed <- c$placed[as.character(r$implant_id)]
    r <- r[!is.na(r$level) & r$seen_on >= r$placed & r$seen_on <= r$placed + 30, ]
    film <- paste(r$implant_id, r$seen_on, r$film, r$reader)
    twice <- film %in% film[duplicated(film)]
    if (sum(twice) == 0) return()
    error <- sum((r$level - ave(r$level, film))[twice]^2) / (sum(twice) - length(unique(film[twice])))
    reliability <- 1 - error / summary(lm(reformulate(right, "depth"), y))$sigma^2
    if (reliability > 0) want("depth_reliability", "window", records, 12, "placement", "mean", value = reliability)
}

# Limits of one combination of coefficients by clubSandwich's Satterthwaite df.
linear_contrast <- function(fit, v, w) {
    t <- linear_contrast_test(fit, v, w)
    list(value = t[1], lower = t[1] - qt(0.975, t[3]) * t[2], upper = t[1] + qt(0.975, t[3]) * t[2])
}
linear_contrast_test <- function(fit, v, w) {
    e <- clubSandwich::linear_contrast(fit, v, contrasts = matrix(w, 1), test = "Satterthwaite", level = 0.95)
    c(e$Est, e$SE, e$df)
}

# The efficient score test of proportional hazards with clusters is written in hazard.R.
for (e in parse(file.path(Sys.getenv("ORACLE"), "hazard.R")))
    if (identical(e[[1]], quote(`<-`)) && identical(e[[2]], quote(clustered_proportional))) eval(e)

loglog <- function(s, se) {
    if (is.na(s) || s <= 0 || s >= 1) return(c(NA_real_, NA_real_))
    sort(s^exp(c(1, -1) * qnorm(0.975) * se / (s * log(s))), na.last = TRUE)
}

# survfit gives the error of log S without clusters, of S itself with them.
error_of_s <- function(fit, k) if (isTRUE(fit$logse)) fit$std.err[k] * fit$surv[k] else fit$std.err[k]

expect_curve <- function(e, patient, grouping, name, unit = "implant", steps = TRUE) {
    if (nrow(e) == 0 || length(unique(patient)) < least_patients || (unit == "implant" && nrow(e) < least_share)) return()
    start <- ifelse(e$entry == 0, -1, e$entry)
    fit <- survfit(Surv(start, e$exit, e$cause == 1) ~ 1, cluster = patient, conf.type = "log-log")
    for (year in 1:5) {
        t <- year * 365.25
        at_risk <- start < t & e$exit >= t
        patients <- length(unique(patient[at_risk]))
        want("at_risk", grouping, name, year, unit = unit, value = sum(at_risk), patients = patients)
        k <- sum(fit$time <= t)
        s <- if (t > max(fit$time)) NA else if (k == 0) 1 else fit$surv[k]
        v <- list(value = s, lower = NA, upper = NA)
        if (!is.na(s) && s < 1 && s > 0) {
            l <- loglog(s, error_of_s(fit, k))
            then <- fit$n.risk[max(which(fit$n.event[1:k] > 0))]     # at risk at the last failure: conf.lower = "modified"
            late <- if (sum(at_risk) > 0 && sum(at_risk) < then) loglog(s, error_of_s(fit, k) * sqrt(then / sum(at_risk))) else l
            v$lower <- late[1]; v$upper <- l[2]
        }
        if (!is.na(s) && s == 1 && patients > 0) { v$lower <- binom.test(patients, patients)$conf.int[1]; v$upper <- 1 }
        do.call(want, c(list("survival", grouping, name, year, unit = unit, events = sum(e$cause == 1 & e$exit <= t)),
                        blank(v, patients < least_patients)))
    }
    if (!steps) return()
    for (k in which(fit$n.event > 0)) {
        l <- loglog(fit$surv[k], error_of_s(fit, k))
        if (fit$surv[k] == 0) l <- binom.test(0, length(unique(patient[start < fit$time[k] & e$exit >= fit$time[k]])))$conf.int
        want("survival_curve", grouping, name, fit$time[k] / 365.25, value = fit$surv[k], lower = l[1], upper = l[2], n = fit$n.risk[k])
    }
}

expect_survival <- function(c) {
    d <- c$d
    for (how in c("last sighting", "recall", "worst case", "best case")) {
        all <- c$ends(how)
        here <- d$analysed & all$there
        expect_curve(all[here, ], d$patient_id[here], "censoring", how, steps = how %in% c("last sighting", "recall"))
        if (!(how %in% c("last sighting", "recall"))) next
        for (by in c("density_found", "torque_class", "depth_class", "operator", "smoking", "tissue_class", "implant_line")) {
            g <- d[[groupings_of[[by]]]]
            for (level in unique(na.omit(g))) {
                x <- here & !is.na(g) & g == level
                expect_curve(all[x, ], d$patient_id[x], paste0("censoring|", by), paste0(how, "|", level))
            }
            for (scale in if (by == "density_found") c("D", "LZ") else "") {
                x <- here & !is.na(g) & (scale == "" | (!is.na(d$density_found_scale) & d$density_found_scale == scale))
                sizes <- tapply(d$patient_id[x], g[x], function(p) length(unique(p)))
                x <- x & g %in% names(sizes)[sizes >= least_patients]
                failures <- length(unique(d$patient_id[x & all$cause == 1]))
                name <- paste0(how, "|", if (scale == "") by else paste0("density_found=", scale))
                v <- list(value = NA_real_, p = NA_real_)
                if (sum(sizes >= least_patients) >= 2 && failures >= 5) {
                    y <- data.frame(start = ifelse(all$entry[x] == 0, -1, all$entry[x]), exit = all$exit[x], event = all$cause[x] == 1,
                                    g = factor(g[x]), patient = d$patient_id[x])
                    fit <- suppressWarnings(coxph(Surv(start, exit, event) ~ g, y, cluster = patient, ties = "breslow"))
                    v <- list(value = fit$rscore, p = pchisq(fit$rscore, nlevels(y$g) - 1, lower.tail = FALSE))
                }
                do.call(want, c(list("survival_comparison", "censoring|comparison", name), v))
                levels <- switch(by, density_found = paste0(scale, 1:4), smoking = c("never", "former", "current"),
                                 operator = , implant_line = sort(unique(na.omit(g))), c$cuts(sub("_class", "", by))$label)
                levels <- levels[levels %in% names(sizes)[sizes >= least_patients]]
                if (length(levels) < 2 || failures < 10 * (length(levels) - 1)) next      # else penalised: see hazard.R
                y <- data.frame(start = ifelse(all$entry[x] == 0, -1, all$entry[x]), exit = all$exit[x], event = all$cause[x] == 1,
                                g = factor(g[x], levels), patient = d$patient_id[x])
                fit <- coxph(Surv(start, exit, event) ~ g, y, cluster = patient, control = coxph.control(eps = 1e-12, toler.chol = 1e-13, iter.max = 100))
                error <- sqrt(diag(vcov(fit)))
                if (any(error > 10)) next                                                  # a level without failures
                want("proportional_hazards", "censoring|comparison", name, value = clustered_proportional(
                    data.frame(entry = y$start, time = y$exit, event = as.numeric(y$event), p = y$patient), model.matrix(~ g, y)[, -1, drop = FALSE],
                    coef(fit), "efron", rep(1, nrow(y))))
                for (k in seq_along(error))
                    want("hazard_ratio", paste0("censoring|", by), paste0(how, "|", levels[k + 1]), value = unname(exp(coef(fit)[k])),
                         lower = unname(exp(coef(fit)[k] - qnorm(0.975) * error[k])), upper = unname(exp(coef(fit)[k] + qnorm(0.975) * error[k])))
            }
        }
        expect_patients(c, all, here, how)
        expect_incidence(all[here, ], d$patient_id[here], how)
        expect_life_table(all[here, ], d$patient_id[here], how)
    }
    expect_failures(c)
}

expect_patients <- function(c, all, here, how) {
    d <- c$d
    x <- data.frame(patient = d$patient_id, placed = d$placed_on, entry = d$placed_on + all$entry, exit = d$placed_on + all$exit,
                    failed = all$cause == 1)[here, ]
    each <- do.call(rbind, lapply(split(x, x$patient), function(p) {
        start <- min(p$placed)
        failed <- any(p$failed)
        data.frame(patient = p$patient[1], entry = min(p$entry) - start,
                   exit = (if (failed) min(p$exit[p$failed]) else max(p$exit)) - start, cause = as.integer(failed))
    }))
    each <- each[each$entry == 0 | each$entry < each$exit, ]
    expect_curve(each, each$patient, "censoring", how, unit = "patient", steps = FALSE)
}

# Events of a cause at each time.
e_at <- function(times, e, cause) vapply(times, function(t) sum(e$exit == t & e$cause == cause), 0)

expect_incidence <- function(e, patient, how) {
    causes <- c(failure = 1, death = 2, elective = 3)
    start <- ifelse(e$entry == 0, -1, e$entry)
    fit <- survfit(Surv(start, e$exit, factor(e$cause, 0:3)) ~ 1, id = seq_len(nrow(e)), influence = TRUE)
    error_at <- function(k, column) sqrt(sum(rowsum(fit$influence.pstate[, k + 1, column], patient)^2))
    for (cause in names(causes)) for (year in 1:5) {
        t <- year * 365.25
        if (t > max(e$exit)) next
        patients <- length(unique(patient[start < t & e$exit >= t]))
        events <- sum(e$cause == causes[cause] & e$exit <= t)
        k <- sum(fit$time <= t)
        column <- match(as.character(causes[cause]), fit$states)
        f <- if (is.na(column)) 0 else fit$pstate[k, column]
        v <- list(value = f, lower = 0, upper = 1 - binom.test(max(patients, 1), max(patients, 1))$conf.int[1])
        if (f > 0) {
            l <- loglog(f, error_at(k, column))
            event <- max(which(e_at(fit$time[1:k], e, causes[cause]) > 0))
            then <- fit$n.risk[event, 1] / if (event > 1) fit$pstate[event - 1, 1] else 1
            now <- sum(start < t & e$exit >= t) / fit$pstate[k, 1]
            late <- if (now > 0 && now < then) loglog(f, error_at(k, column) * sqrt(then / now)) else l
            v$lower <- l[1]; v$upper <- late[2]
        }
        do.call(want, c(list("incidence", "censoring|cause", paste0(how, "|", cause), year, events = events), blank(v, patients < least_patients || nrow(e) < least_share)))
    }
}

expect_life_table <- function(e, patient, how) {
    from_start <- e$entry == 0
    e <- e[from_start, ]; patient <- patient[from_start]
    width <- 365.25
    robust <- survfit(Surv(e$exit, e$cause == 1) ~ 1, cluster = patient)
    naive <- survfit(Surv(e$exit, e$cause == 1) ~ 1)
    cumulative <- 1; green <- 0
    for (j in 0:floor(max(e$exit) / width)) {
        entering <- sum(e$exit >= j * width)
        inside <- e$exit >= j * width & e$exit < (j + 1) * width
        failed <- sum(inside & e$cause == 1)
        exposed <- entering - sum(inside & e$cause != 1) / 2
        cumulative <- cumulative * (1 - failed / exposed)
        green <- green + failed / (exposed * (exposed - failed))
        patients <- length(unique(patient[e$exit >= j * width]))
        k <- sum(robust$time <= (j + 1) * width)
        l <- loglog(cumulative, cumulative * sqrt(green) * error_of_s(robust, k) / error_of_s(naive, k))
        want("life_table_entering", "censoring", how, j, value = entering)
        want("life_table_failed", "censoring", how, j, value = failed)
        want("life_table_withdrawn", "censoring", how, j, value = sum(inside & e$cause != 1))
        want("life_table_interval", "censoring", how, j, value = if (few(patients, entering, TRUE)) NA_real_ else 1 - failed / exposed)
        want("life_table_exposed", "censoring", how, j, value = exposed)
        v <- list(value = cumulative, lower = l[1], upper = l[2])
        if (cumulative == 1) { v$lower <- binom.test(patients, patients)$conf.int[1]; v$upper <- 1 }
        do.call(want, c(list("life_table_cumulative", "censoring", how, j), blank(v, few(patients, entering, TRUE))))
    }
}

expect_failures <- function(c) {
    d <- c$d
    e <- c$ends("last sighting")
    state <- ifelse(e$cause == 1 & e$exit <= 180, 1, ifelse(e$cause != 0 | e$exit >= 180, 0, NA))
    for (records in c("12 months", "all")) {
        due <- !d$no_survival & d$placed_on + 180 <= c$last & (is.na(c$since) | d$placed_on >= c$since) &
               (records == "all" | d$placed_on + 180 >= c$closing)
        for (by in c("", "operator", "density_found", "torque_class", "depth_class", "smoking", "tissue_class", "implant_line")) {
            g <- if (by == "") rep("", nrow(d)) else d[[groupings_of[[by]]]]
            for (level in unique(na.omit(g[due]))) {
                x <- due & !is.na(g) & g == level
                y <- x & !is.na(state)
                v <- share(state[y], d$patient_id[y])
                do.call(want, c(list("early_failure", if (by == "") "window" else paste0("window|", by),
                                     if (by == "") records else paste0(records, "|", level), due = sum(x), n = sum(y), events = v$events),
                                blank(v, few(length(unique(d$patient_id[y])), sum(y), TRUE))))
            }
        }
        y <- due & !is.na(state)
        any_failed <- tapply(state[y], d$patient_id[y], max)
        v <- share(as.numeric(any_failed), names(any_failed), independent = TRUE)
        do.call(want, c(list("early_failure", "window", records, unit = "patient"), blank(v, few(length(any_failed)))))
        for (bound in c("best case", "worst case")) {
            v <- share(ifelse(is.na(state[due]), bound == "worst case", state[due]), d$patient_id[due])
            do.call(want, c(list("early_failure_bound", "window|bound", paste0(records, "|", bound)),
                            blank(v, few(length(unique(d$patient_id[due])), sum(due), TRUE))))
        }
    }
    failed <- d$analysed & d$fate == "removed"
    patients <- length(unique(d$patient_id[failed]))
    do.call(want, c(list("discovery_gap", "window", "all", n = sum(failed)),
                    blank(if (few(patients)) list() else woodruff((d$removed - d$seen_before)[failed], d$patient_id[failed]), few(patients))))
    for (w in list(c("period", c$first), c("12 months", c$year))) for (how in c("last sighting", "recall")) {
        e <- c$ends(how)
        from <- d$placed_on + e$entry; until <- d$placed_on + e$exit; first <- as.numeric(w[2])
        x <- d$analysed & e$there & until >= first
        years <- (until - pmax(from, first - 1))[x] / 365.25
        t <- tapply(years, d$patient_id[x], sum)
        k <- tapply(as.numeric(e$cause[x] == 1), d$patient_id[x], sum)
        r <- sum(k) / sum(t); groups <- length(t)
        se <- sqrt(groups / (groups - 1) * sum((k - r * t)^2)) / sum(t)
        factor <- exp(qt(0.975, groups - 1) * se / r)
        grouping <- if (how == "recall") "window|censoring" else "window"
        name <- if (how == "recall") paste0(w[1], "|recall") else w[1]
        if (sum(k) > 0 && groups >= least_patients)
            want("failure_rate", grouping, name, value = 100 * r, lower = 100 * r / factor, upper = 100 * r * factor, n = sum(x), events = sum(k))
    }
}

# --- stores ------------------------------------------------------------------------------------------------
# The sample practice, and the same with its records changed at random: caps, kinds of level, lost visits, settings.
change <- function(store, seed) {
    r <- function(k) sprintf("(abs(id * %d + %d) %% 997)", 7919 + 2 * seed, 31 * seed + k)
    c(sprintf("update implant set final_torque_ncm = 50, final_torque_capped = 1 where final_torque_ncm > 50 and %s < 700", r(1)),
      sprintf("update implant set density_found_scale = 'LZ' where density_found is not null and %s < 250", r(2)),
      sprintf("update reading set level_kind = 'contact' where %s < 60", r(3)),
      sprintf("delete from reading where %s < 150", r(4)),
      sprintf("update reading set reader = 'R9' where %s < 200 and not exists (select 1 from reading o where o.implant_id = reading.implant_id and o.seen_on = reading.seen_on and o.id <> reading.id)", r(5)),
      sprintf("insert into event (patient_id, implant_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, id, placed_on + 40 + %s, 'removed', 1, 1, 1 from implant where %s < 40 and not exists (select 1 from event e where e.implant_id = implant.id)", r(6), r(7)),
      sprintf("insert or ignore into event (patient_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, max(placed_on) + 90 + %s, 'died', 1, 1, 1 from implant where %s < 30 group by patient_id", r(8), r(9)),
      if (seed %% 2 == 0) "update setting set value = '2022-06-01' where name = 'complete_since'",
      if (seed %% 3 == 0) "update setting set value = '6' where name = 'recall_interval_months'",
      if (seed %% 3 == 1) "update setting set value = 'R2' where name = 'primary_reader'")
}

# --- what stands out ---------------------------------------------------------------------------------------
# From the p of the figures file alone: adjusted anew (Holm over verdicts on house rules, else Benjamini-Hochberg within section and
# outcome of the catalogue), then screened, clear and named as the method appendix says of many comparisons.
check_standing_out <- function(set) {
    f <- read.csv(file.path(oracle$folder, "figures.csv"), na.strings = "", check.names = FALSE)
    catalogue <- file.path(oracle$folder, "catalogue.csv")
    system2(Sys.getenv("RIDGETALLY"), c("figures", "--catalogue"), stdout = catalogue)
    catalogue <- read.csv(catalogue, na.strings = "")
    for (v in c("grouping", "level", "baseline", "site", "unit_of_analysis")) f[[v]][is.na(f[[v]])] <- ""
    outcome <- catalogue$outcome[match(paste(f$section, f$measure), paste(catalogue$section, catalogue$measure))]
    family <- paste(f$section, outcome)
    adjusted <- rep(NA_real_, nrow(f))
    for (one in unique(family[!is.na(f$p)])) {
        of <- which(family == one & !is.na(f$p))
        adjusted[of] <- p.adjust(f$p[of], if (one == "rules rule") "holm" else "BH")
    }
    must("figures", set, identical(is.na(adjusted), is.na(f$p_adjusted)), "adjusted p: the same rows")
    error <- abs(adjusted - f$p_adjusted) / pmax(adjusted, 1e-300)
    must("figures", set, all(error < 1e-6, na.rm = TRUE), paste("adjusted p", max(c(0, error), na.rm = TRUE)))

    level <- strsplit(f$level, "|", fixed = TRUE)
    first <- vapply(level, function(x) if (length(x)) x[1] else "", "")
    last <- vapply(level, function(x) if (length(x)) x[length(x)] else "", "")
    cohort <- grepl("^(window|censoring)", f$grouping)
    again <- c("torque_density_tau_b", "torque_density_trend", "torque_diameter_tau_b", "torque_length_tau_b", "crest_model_cr2",
               "crest_model_operator", "level_model", "rule_sum_slope")
    checks <- c("density_kappa", "density_kappa_quadratic", "proportional_hazards")
    screened <- !is.na(f$p) & !f$measure %in% c(again, checks) & !(cohort & !first %in% c("12 months", "all", "last sighting")) &
        f$site %in% c("", "mean") & f$baseline %in% c("", "placement") & f$unit_of_analysis != "patient" &
        !(grepl("term$", f$grouping) & last == "intercept")
    low <- screened & f$state == "ok" & !is.na(adjusted) & adjusted < 0.05
    group <- ifelse(f$measure == "survival_comparison", last, sub(".*\\|", "", f$grouping))
    scaled <- f$measure == "hazard_ratio" & group == "density_found"
    group[scaled] <- ifelse(grepl("^LZ", last[scaled]), "density_found=LZ", "density_found=D")
    clear <- low & (f$measure != "hazard_ratio" | group %in% group[low & f$measure == "survival_comparison"]) &
        (f$measure != "rule_verdict" | f$value %in% c(-1, 1))
    question <- paste(f$section, f$measure, ifelse(f$measure == "rule_verdict", f$level, ""))
    question[f$measure %in% c("hazard_ratio", "survival_comparison")] <- paste("survival", group)[f$measure %in% c("hazard_ratio", "survival_comparison")]
    question[f$measure %in% c("depth_operator_difference", "difference_depth_error")] <- "depth of operators"
    counts <- c(comparisons = sum(screened), comparisons_clear = sum(clear), comparisons_named = length(unique(question[clear])))
    for (measure in names(counts)) {
        ours <- f$value[f$measure == measure]
        must("figures", set, length(ours) == 1 && ours == counts[[measure]], paste(measure, counts[[measure]]))
        recomputed(data.frame(quantity = paste(measure, "value"), value = ours))
    }
}

base <- Sys.getenv("FIGURES_STORE")
if (!nzchar(base)) {
    base <- file.path(oracle$folder, "base.db")
    run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
    run("new", "--store", base)
    run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
}
sets <- list(list(from = "2000-01-01", to = "2026-09-30"), list(from = "2026-04-01", to = "2026-06-30"),
             list(from = "2025-01-01", to = "2025-12-31"), list(from = "2023-07-01", to = "2023-09-30"))
for (i in seq_along(sets)) {
    set <- structure(list(seed = i, kind = paste(sets[[i]]$from, sets[[i]]$to)), class = "data_set")
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    if (i > 1) must("figures", set, change_store(store, unlist(c(change(store, i),
        if (i == 4) "update implant set depth_source = 'film' where id % 10 < 8"))), "change of the store")
    rows$all <- rows$near <- list()
    c1 <- cohort(read_store(store), day(sets[[i]]$from), day(sets[[i]]$to))
    expect_flow(c1)
    expect_depth(c1)
    expect_stability(c1)
    expect_crest(c1)
    expect_models(c1)
    expect_survival(c1)
    ours <- observed(store, sets[[i]]$from, sets[[i]]$to)
    compare("figures", set, ours, do.call(rbind, rows$all))
    check_standing_out(set)
    # lmer stops near 1e-5 of the optimum: its limits and variances are compared at a hundred times our own limit
    near <- do.call(rbind, rows$near)
    recomputed(near)
    if (!is.null(near)) {
        error <- relative_error(near$quantity, ours$value[match(key_of(near), key_of(ours))], near$value, near$scale)
        must("figures", set, all(error < 100 * limit), paste("mixed model", key_of(near)[which.max(error)], max(error)))
    }
    show_differences(i, ours, do.call(rbind, rows$all))
}
finish()
