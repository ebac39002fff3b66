# The figures of success, and those of crest and survival that figures.R leaves open, against R: recomputed from the base
# tables of a store with the helpers of figures.R.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
for (e in parse(file.path(Sys.getenv("ORACLE"), "figures.R")))
    if (deparse(e[[1]])[1] %in% c("<-", "suppressPackageStartupMessages") && !identical(e[[2]], quote(base))) eval(e)

# --- the reading error ---------------------------------------------------------------------------------------
reading_error <- function(s, last) {
    r <- s$reading[s$reading$seen_on <= last & (is.na(s$reading$readable) | s$reading$readable == 1) &
                   !is.na(s$reading$level_mesial_mm) & !is.na(s$reading$level_distal_mm), ]
    level <- (r$level_mesial_mm + r$level_distal_mm) / 2
    film <- paste(r$implant_id, r$seen_on, r$film, r$reader, sep = "~")
    repeated <- film %in% names(which(table(film) > 1))
    if (!any(repeated)) return(list(s = NA_real_, films = 0, implants = 0))
    y <- level[repeated]; g <- film[repeated]
    list(s = sqrt(sum((y - ave(y, g))^2) / (length(y) - length(unique(g)))), films = length(unique(g)),
         implants = length(unique(r$implant_id[repeated])))
}

# --- the published sets --------------------------------------------------------------------------------------
yes_no <- function(...) lapply(c(...), function(q) list(what = q, limit = NA, allowed = FALSE))
limit_of <- function(what, limit, allowed = FALSE) list(list(what = what, limit = limit, allowed = allowed))
sets_of_criteria <- list(
    `Albrektsson 1986` = c(yes_no("mobile", "radiolucency", "pain", "suppuration"), limit_of("rate", 0.2)),
    `Smith and Zarb 1989` = c(yes_no("mobile", "radiolucency", "pain", "suppuration", "unused"), limit_of("rate", 0.2)),
    `Albrektsson and Isidor 1994` = c(limit_of("first", 1.5), limit_of("rate", 0.2)),
    `Roos 1997` = c(yes_no("mobile", "radiolucency", "pain", "suppuration"), limit_of("first", 1, TRUE), limit_of("rate", 0.2, TRUE)),
    `Pisa consensus 2007` = c(yes_no("mobile", "pain", "ever"), limit_of("placement", 2)),
    `World Workshop 2017` = c(yes_no("suppuration", "bleeding"), limit_of("probing", 1, TRUE), limit_of("loading", 2)))
requirement_names <- c(mobile = "no mobility", radiolucency = "no radiolucency", pain = "no pain", suppuration = "no suppuration",
    ever = "never suppuration", bleeding = "no bleeding", probing = "probing steady", unused = "in use", first = "loss in the first year",
    rate = "loss a year after", loading = "loss since loading", placement = "loss since placement")
missing_words <- c(mobile = "mobility not recorded", radiolucency = "radiolucency not recorded", pain = "pain not recorded",
    suppuration = "suppuration not recorded", ever = "suppuration not recorded", bleeding = "bleeding not recorded",
    probing = "no two probings after loading", first = "no film at loading and after a year", rate = "no two films after the first year",
    loading = "no film at loading and since", placement = "no film at placement and since")

window_day <- function(start, months) start + ceiling(months * month)         # first day of a window that opens then

slope_of <- function(f, from, to, s) {
    f <- f[f$seen_on >= from & f$seen_on <= to & !is.na(f$level_mesial_mm) & !is.na(f$level_distal_mm), ]
    if (nrow(f) == 0) return(c(NA, NA, NA))
    f <- f[f$level_kind == tail(f$level_kind, 1), ]
    if (length(unique(f$seen_on)) < 2) return(c(NA, NA, NA))
    t <- f$seen_on / 365.25
    y <- (f$level_mesial_mm + f$level_distal_mm) / 2
    sxx <- sum((t - mean(t))^2)
    c(sum((t - mean(t)) * y) / sxx, 1.96 * s / sqrt(sxx), diff(range(t)))
}

lost <- function(before, after) {
    if (is.null(before) || is.null(after) || before$level_kind != after$level_kind) return(NA)
    -min(after$level_mesial_mm - before$level_mesial_mm, after$level_distal_mm - before$level_distal_mm)
}

any_of <- function(x) if (any(x == 1, na.rm = TRUE)) TRUE else if (any(x == 0, na.rm = TRUE)) FALSE else NA

# What is known of implant i at its visits from `first` to `last`. TRUE in `met` means that the requirement is met.
facts <- function(c, s, i, first, last, wanted, error) {
    d <- c$d[i, ]
    if (d$no_crest || d$no_survival) return(list(unknown = "records contradict each other"))
    if (d$fate == "removed" && d$removed <= last) return(list(failed = TRUE))
    v <- s$reading[s$reading$implant_id == d$id & s$reading$seen_on >= d$placed_on & s$reading$seen_on <= c$last, ]
    gone <- suppressWarnings(min(d$removed, d$elective, na.rm = TRUE))
    v <- v[v$seen_on <= gone, ]
    examined <- rowSums(!is.na(v[, c("mobile", "radiolucency", "pain", "suppuration", "bleeding", "probing_mm")])) > 0
    v <- v[examined, ]
    films <- c$films[[i]]
    seen <- c(v$seen_on, films$seen_on)
    seen <- seen[seen >= first & seen <= last]
    if (length(seen) == 0) {
        left <- (d$fate == "elective" && d$elective <= last) || (d$fate == "died" && d$died <= last)
        return(list(unknown = if (left) "removed by choice or died" else "not examined then"))
    }
    now <- v[v$seen_on >= first & v$seen_on <= last, ]
    f <- films[!is.na(films$level_mesial_mm) & !is.na(films$level_distal_mm), ]
    near <- function(from, to, wanted) film_near(f, from, to + 1, wanted)
    either <- function(from, to, wanted) film_near(films, from, to + 1, wanted)   # a baseline is the nearest film, one side or both
    film <- near(first, last, wanted)
    loaded <- !is.na(d$loaded_on) && d$loaded_on <= last
    met <- list(mobile = !any_of(now$mobile), radiolucency = !any_of(now$radiolucency), pain = !any_of(now$pain),
                suppuration = !any_of(now$suppuration), bleeding = !any_of(now$bleeding))
    met$ever <- if (any(v$suppuration[v$seen_on <= last] == 1, na.rm = TRUE)) FALSE else met$suppuration
    unused <- s$event[s$event$patient_id == d$patient_id & s$event$event == "unused" & s$event$happened_on >= d$placed_on &
                      s$event$happened_on <= last & (is.na(s$event$implant_id) | s$event$implant_id == d$id), ]
    met$unused <- nrow(unused) == 0
    amount <- c(placement = lost(either(d$placed_on, d$placed_on + 30, d$placed_on), film), loading = NA, first = NA, rate = NA, probing = NA)
    p <- v[!is.na(v$probing_mm) & v$seen_on <= last & !is.na(d$loaded_on) & v$seen_on >= d$loaded_on, ]
    p <- p[order(p$seen_on, p$reader != c$primary, p$reader, p$film, p$reading), ]
    if (nrow(p) > 0) {
        later <- p$probing_mm[p$seen_on > p$seen_on[1] & p$seen_on >= first]
        if (length(later)) amount["probing"] <- max(later) - p$probing_mm[1]
    }
    detectable <- NA
    if (loaded) {
        base <- either(d$loaded_on - 30, d$loaded_on + 60, d$loaded_on)
        after <- !is.null(base) && !is.null(film) && film$seen_on > base$seen_on
        if (after) amount["loading"] <- lost(base, film)
        opens <- window_day(d$loaded_on, 9)
        year <- near(opens, min(last, window_day(d$loaded_on, 18) - 1), d$loaded_on + 12 * month)
        if (is.null(year) && after && film$seen_on < opens) year <- film
        amount["first"] <- lost(base, year)
        r <- slope_of(films, opens, last, error)
        amount["rate"] <- -r[1]
        detectable <- r[2]
    }
    list(met = met, amount = amount, loaded = loaded, asked = loaded && max(seen) >= window_day(d$loaded_on, 18), detectable = detectable)
}

judge_one <- function(f, q) {
    if (q$what == "rate") {
        if (!f$loaded) return(list(NA, "not loaded yet, or no loading date"))
        if (!f$asked) return(list(TRUE))
        loss <- f$amount[["rate"]]
        if (is.na(loss)) return(list(NA, missing_words[["rate"]]))
        if (is.na(f$detectable) || f$detectable > q$limit) return(list(NA, "yearly rate within reading error"))
        return(list(loss < q$limit || (q$allowed && loss == q$limit)))
    }
    if (is.na(q$limit)) return(if (is.na(f$met[[q$what]])) list(NA, missing_words[[q$what]]) else list(f$met[[q$what]]))
    a <- f$amount[[q$what]]
    if (is.na(a)) return(list(NA, missing_words[[q$what]]))
    over <- hundredths(a) - hundredths(q$limit)
    list(over < 0 || (q$allowed && over == 0))
}

judge <- function(f, demands) {
    if (!is.null(f$unknown)) return(list(NA, f$unknown))
    if (!is.null(f$failed)) return(list(FALSE))
    all <- lapply(demands, function(q) judge_one(f, q))
    values <- sapply(all, function(a) a[[1]])
    if (any(!values, na.rm = TRUE)) return(list(FALSE))
    if (!anyNA(values)) return(list(TRUE))
    list(NA, all[[which(is.na(values))[1]]][[2]])
}

mean_of_shares <- function(y, patient) {
    p <- tapply(y, patient, mean)
    n <- length(p); m <- mean(p)
    if (n < 2) return(list(value = m, lower = NA, upper = NA))
    v <- var(p) / n
    size <- if (v > 0) m * (1 - m) / v else n
    t <- if (v > 0) (qt(0.975, n - 1) / qt(0.975, n - 1))^2 else 1
    size <- size * t
    list(value = m, lower = if (m == 0) 0 else qbeta(0.025, m * size, size - m * size + 1),
         upper = if (m == 1) 1 else qbeta(0.975, m * size + 1, size - m * size))
}

expect_success <- function(c, s) {
    d <- c$d
    error <- reading_error(s, c$last)$s
    recall <- floor(as.integer(s$setting$recall_interval_months) * month)
    for (name in names(sets_of_criteria)) for (q in sets_of_criteria[[name]])
        want("success_limit", "criteria|requirement", paste0(name, "|", requirement_names[[q$what]]), unit = "", value = as.numeric(q$limit))
    for (time in c(12, 36, 60, NA)) {
        w <- match(time, windows$nominal)
        opens <- if (is.na(time)) rep(c$last - recall, nrow(d)) else window_day(d$placed_on, windows$low[w])
        closes <- if (is.na(time)) rep(c$last, nrow(d)) else window_day(d$placed_on, windows$high[w]) - 1
        wanted <- if (is.na(time)) rep(c$last, nrow(d)) else d$placed_on + time * month
        every <- if (is.na(time)) window_day(d$placed_on, 9) <= c$last else closes <= c$last
        known <- lapply(seq_len(nrow(d)), function(i) if (every[i]) facts(c, s, i, opens[i], closes[i], wanted[i], error))
        for (records in if (is.na(time)) "all" else c("12 months", "all")) {
            due <- which(every & (records == "all" | closes >= c$closing))
            baseline <- if (is.na(time)) "" else "placement"
            row <- function(measure, grouping, level, ...) want(measure, grouping, level, if (is.na(time)) NA else time, baseline, ...)
            patient <- d$patient_id[due]
            judged <- lapply(sets_of_criteria, function(set) lapply(known[due], judge, set))
            answer <- lapply(judged, function(j) as.numeric(sapply(j, function(x) x[[1]])))
            for (name in names(sets_of_criteria)) {
                y <- answer[[name]]; level <- paste0(records, "|", name)
                ok <- !is.na(y); patients <- length(unique(patient[ok]))
                v <- share(y[ok], patient[ok])
                do.call(row, c(list("success_share", "window|criteria", level, n = sum(ok), patients = patients, due = length(due),
                                    events = v$events), blank(v, few(patients, sum(ok), TRUE))))
                v <- if (few(patients)) list() else mean_of_shares(y[ok], patient[ok])
                do.call(row, c(list("success_share", "window|criteria", level, unit = "patient"), blank(v, few(patients))))
                row("success_judged", "window|criteria", level, n = length(due), events = sum(ok),
                    value = if (length(due) < least_share) NA_real_ else sum(ok) / length(due))
                for (bound in c("worst case", "best case")) {
                    z <- ifelse(ok, y, as.numeric(bound == "best case"))
                    v <- share(z, patient)
                    do.call(row, c(list("success_bound", "window|criteria|bound", paste0(level, "|", bound), events = v$events),
                                   blank(v, few(length(unique(patient)), length(due), TRUE))))
                }
                why <- sapply(judged[[name]], function(x) if (is.na(x[[1]])) x[[2]] else NA)
                for (reason in unique(na.omit(unlist(why))))
                    row("success_unjudged", "window|criteria|reason", paste0(level, "|", reason), value = sum(why == reason, na.rm = TRUE),
                        patients = length(unique(patient[which(why == reason)])))
                failed <- sapply(known[due], function(f) !is.null(f$failed)); away <- sapply(known[due], function(f) !is.null(f$unknown))
                if (length(due) == 0) failed <- away <- logical(0)
                field <- ifelse(failed, "failure", ifelse(away, "unaccounted for", ifelse(ok & y %in% 1, "success", "survival")))
                for (one in c("success", "survival", "unaccounted for", "failure"))
                    row("success_class", "window|criteria|class", paste0(level, "|", one), value = sum(field == one))
                if (is.na(time) || time == 12) for (other in setdiff(names(sets_of_criteria), name)) {
                    z <- answer[[other]]
                    row("success_disagreement", "window|criteria|not_criteria", paste0(level, "|", other),
                        value = sum(y == 1 & z == 0, na.rm = TRUE), n = sum(ok & !is.na(z)))
                }
            }
            present <- due[vapply(known[due], function(f) is.null(f$failed) && is.null(f$unknown), TRUE)]
            for (what in names(requirement_names)) {
                q <- Filter(function(q) q$what == what, unlist(unname(sets_of_criteria), recursive = FALSE))[[1]]
                y <- as.numeric(sapply(known[present], function(f) judge_one(f, q)[[1]]))
                row("success_requirement", "window|requirement", paste0(records, "|", requirement_names[[what]]), n = sum(!is.na(y)),
                    due = length(present), events = sum(y, na.rm = TRUE), value = if (sum(!is.na(y)) < least_share) NA_real_ else mean(y, na.rm = TRUE))
            }
        }
    }
}

# --- survival ------------------------------------------------------------------------------------------------
# A curve at whole years as `survival`, or with failing = TRUE as the share that failed, under another measure's name.
curve_years <- function(measure, e, patient, grouping, name, failing = FALSE) {
    if (nrow(e) == 0) return()
    start <- ifelse(e$entry == 0, -1, e$entry)
    fit <- survfit(Surv(start, e$exit, e$cause == 1) ~ 1, cluster = patient, conf.type = "log-log")
    for (year in seq_len(min(40, max(1, floor(max(e$exit) / 365.25))))) {
        t <- year * 365.25
        at_risk <- start < t & e$exit >= t
        patients <- length(unique(patient[at_risk]))
        k <- sum(fit$time <= t)
        s <- if (t > max(fit$time)) NA else if (k == 0) 1 else fit$surv[k]
        v <- list(value = s, lower = NA, upper = NA)
        if (!is.na(s) && s < 1 && s > 0) {
            l <- loglog(s, error_of_s(fit, k))
            then <- fit$n.risk[max(which(fit$n.event[1:k] > 0))]
            late <- if (sum(at_risk) > 0 && sum(at_risk) < then) loglog(s, error_of_s(fit, k) * sqrt(then / sum(at_risk))) else l
            v$lower <- late[1]; v$upper <- l[2]
        }
        if (!is.na(s) && s == 1 && patients > 0) { v$lower <- binom.test(patients, patients)$conf.int[1]; v$upper <- 1 }
        if (failing) v <- list(value = 1 - v$value, lower = 1 - v$upper, upper = 1 - v$lower)
        do.call(want, c(list(measure, grouping, name, year, n = sum(at_risk), patients = patients, events = sum(e$cause == 1 & e$exit <= t)),
                        blank(v, patients < least_patients)))
    }
}

# One implant of each patient, 200 times: the minimal standard generator of each patient, in exact arithmetic of doubles.
expect_one_each <- function(c) {
    d <- c$d
    for (how in c("last sighting", "recall")) {
        e <- c$ends(how)
        here <- d$analysed & e$there
        e <- e[here, ]; patient <- d$patient_id[here]
        if (length(unique(patient)) < least_patients) next
        start <- ifelse(e$entry == 0, -1, e$entry)
        key <- (d$placed_on[here] + 1e6) * 100 + ifelse(is.na(d$tooth[here]), 0, d$tooth[here])
        ordered <- order(match(patient, unique(patient)), key, seq_along(key))          # a patient's implants by day and tooth
        size <- as.numeric(table(factor(patient, unique(patient))))
        before <- cumsum(size) - size
        state <- 1 + (20231 + as.numeric(tapply(key, factor(patient, unique(patient)), sum))) %% 2147483646
        years <- seq_len(min(40, max(1, floor(max(e$exit) / 365.25))))
        sums <- replicate(200, {
            state <<- (state * 16807) %% 2147483647
            pick <- ordered[before + floor(state * size / 2147483647) + 1]
            x <- e[pick, ]; from <- start[pick]
            fit <- survfit(Surv(from, x$exit, x$cause == 1) ~ 1)
            sapply(years, function(year) {
                t <- year * 365.25
                k <- sum(fit$time <= t)
                s <- if (k == 0) 1 else fit$surv[k]
                if (t > max(fit$time) && s > 0) return(c(NA, NA, sum(from < t & x$exit >= t), NA))
                se <- if (k == 0) 0 else error_of_s(fit, k)
                failed <- which(fit$n.event[seq_len(k)] > 0)
                now <- sum(from < t & x$exit >= t)
                grown <- if (length(failed) && now > 0) max(1, fit$n.risk[max(failed)] / now) else 1
                c(s, se^2, now, se^2 * grown)
            })
        }, simplify = "array")
        for (year in years) {
            s <- sums[1, year, ]; at_risk <- floor(mean(sums[3, year, ]) + 0.5)
            between <- var(s)
            v <- list(value = mean(s), lower = NA, upper = NA)
            if (!anyNA(s)) {
                if (mean(s) == 1) { if (at_risk > 0) { v$lower <- binom.test(at_risk, at_risk)$conf.int[1]; v$upper <- 1 } }
                else if (mean(sums[2, year, ]) > between) {
                    v$upper <- loglog(mean(s), sqrt(mean(sums[2, year, ]) - between))[2]
                    v$lower <- loglog(mean(s), sqrt(mean(sums[4, year, ]) - between))[1]
                }
            }
            do.call(want, c(list("survival_one_implant", "censoring", how, year, n = at_risk), blank(v, at_risk < least_patients)))
        }
    }
}

expect_survival_checks <- function(c) {
    d <- c$d
    e <- c$ends("last sighting")
    removed <- d$analysed & d$fate == "removed"
    early <- d$removed - d$placed_on <= 180
    want("failures", "when", "within 180 days", value = sum(removed & early), patients = length(unique(d$patient_id[which(removed & early)])))
    want("failures", "when", "later", value = sum(removed & !early))
    late <- e
    late$entry <- pmax(e$entry, 180)
    x <- which(d$analysed & e$there & e$exit > 180 & late$entry < late$exit)
    curve_years("late_failure", late[x, ], d$patient_id[x], "censoring", "last sighting", failing = TRUE)
    out <- d$no_survival
    want("left_out", value = sum(out), patients = length(unique(d$patient_id[out])), events = sum(out & d$fate == "removed"))
    state <- ifelse(e$cause == 1 & e$exit <= 180, 1, ifelse(e$cause != 0 | e$exit >= 180, 0, NA))
    if (any(out)) for (word in c("as recorded", "best case", "worst case")) {
        z <- e; s <- state
        if (word == "best case") { z$exit[out] <- (d$seen_last - d$placed_on)[out]; z$cause[out] <- 0L; s[out] <- 0 }
        if (word == "worst case") {
            z$exit[out & e$cause != 1] <- (d$seen_last + 1 - d$placed_on)[out & e$cause != 1]
            z$cause[out] <- 1L; s[out] <- 1
        }
        there <- e$there & (d$analysed | out) & (z$entry == 0 | z$entry < z$exit)
        there[is.na(there)] <- FALSE
        curve_years("survival_left_out", z[there, ], d$patient_id[there], "censoring|bound", paste0("last sighting|", word))
        for (records in c("12 months", "all")) {
            y <- d$placed_on + 180 <= c$last & (is.na(c$since) | d$placed_on >= c$since) &
                 (records == "all" | d$placed_on + 180 >= c$closing) & !is.na(s)
            v <- share(s[y], d$patient_id[y])
            do.call(want, c(list("early_failure_left_out", "window|bound", paste0(records, "|", word), n = sum(y), events = v$events),
                            blank(v, few(length(unique(d$patient_id[y])), sum(y), TRUE))))
        }
    }
    expect_hazard_patients(c)
    expect_before_loading(c)
}

expect_hazard_patients <- function(c) {
    d <- c$d
    for (how in c("last sighting", "recall")) {
        all <- c$ends(how)
        for (by in c("density_found", "torque_class", "depth_class", "operator", "smoking", "tissue_class", "implant_line"))
            for (scale in if (by == "density_found") c("D", "LZ") else "") {
                g <- d[[groupings_of[[by]]]]
                x <- d$analysed & all$there & !is.na(g) & (scale == "" | d$density_found_scale %in% scale)
                sizes <- tapply(d$patient_id[x], g[x], function(p) length(unique(p)))
                x <- x & g %in% names(sizes)[sizes >= least_patients]
                if (sum(sizes >= least_patients) < 2) next
                want("hazard_patients", "censoring|comparison", paste0(how, "|", if (scale == "") by else paste0("density_found=", scale)),
                     unit = "patient", value = length(unique(d$patient_id[x & all$cause == 1])), due = 10 * (sum(sizes >= least_patients) - 1))
            }
    }
}

# Failure before loading: loading is the competing end; other endings compete too.
expect_before_loading <- function(c) {
    d <- c$d
    e <- c$ends("last sighting")
    cause <- ifelse(e$cause == 1, 1, ifelse(e$cause == 0, 0, 3))
    exit <- e$exit
    loading <- d$loaded_on - d$placed_on
    known <- !is.na(d$loaded_on) | d$loaded %in% 0
    takes <- !is.na(loading) & loading >= 0 & (cause == 0 | loading <= exit)
    exit[takes] <- loading[takes]
    cause[takes] <- 2
    x <- which(d$analysed & e$there & known & (is.na(d$loaded_on) | e$entry == 0 | e$entry < exit))
    if (length(x) == 0) return()
    entry <- e$entry[x]; exit <- exit[x]; cause <- cause[x]; patient <- d$patient_id[x]
    start <- ifelse(entry == 0, -1, entry)
    fit <- survfit(Surv(start, exit, factor(cause, 0:3)) ~ 1, id = seq_along(exit), influence = TRUE)
    for (name in c("failure", "loading")) for (years in c(0.25, 0.5, 1)) {
        code <- if (name == "failure") 1 else 2
        t <- floor(years * 365.25)
        events <- sum(cause == code & exit <= t)
        column <- match(as.character(code), fit$states)
        k <- sum(fit$time <= t)
        open <- t > max(exit) && tail(fit$pstate[, 1], 1) > 1e-12       # nobody is followed that long, and some still wait
        f <- if (open) NA else if (k == 0 || is.na(column)) 0 else fit$pstate[k, column]
        patients <- length(unique(patient))
        v <- list(value = f, lower = NA, upper = NA)
        if (!is.na(f) && f == 0) v[c("lower", "upper")] <- c(0, 1 - binom.test(patients, patients)$conf.int[1])
        if (!is.na(f) && f > 0 && f < 1) {
            se <- sqrt(sum(rowsum(fit$influence.pstate[, k + 1, column], patient)^2))
            l <- loglog(f, se)
            event <- max(which(vapply(fit$time[1:k], function(u) sum(exit == u & cause == code), 0) > 0))
            then <- fit$n.risk[event, 1] / if (event > 1) fit$pstate[event - 1, 1] else 1
            now <- sum(start < t & exit >= t) / fit$pstate[k, 1]
            late <- if (is.finite(now) && now > 0 && now < then) loglog(f, se * sqrt(then / now)) else l
            v$lower <- l[1]; v$upper <- late[2]
        }
        do.call(want, c(list("failure_before_loading", "censoring|cause", paste0("last sighting|", name), years, n = length(x),
                            patients = patients, due = sum(d$analysed), events = events),
                        blank(v, few(patients, length(x), TRUE))))
    }
}

# --- crest ---------------------------------------------------------------------------------------------------
expect_crest_checks <- function(c, s) {
    d <- c$d
    error <- reading_error(s, c$last)
    detectable <- 1.96 * sqrt(2) * error$s
    for (baseline in c("placement", "loading")) for (w in 1:6) {
        x <- resolve(c, baseline, w)
        x$c_mean <- (x$c_m + x$c_d) / 2
        two <- rep(NA, nrow(d))
        for (i in which(!is.na(x$c_mean))) {
            f <- c$films[[i]]
            b <- if (baseline == "placement") film_near(f, x$start[i], x$start[i] + 31, x$start[i]) else
                 film_near(f, x$start[i] - 30, x$start[i] + 61, x$start[i])
            l <- film_near(f, x$start[i] + windows$low[w] * month, x$start[i] + windows$high[w] * month, x$start[i] + windows$nominal[w] * month)
            two[i] <- b$reader != l$reader
        }
        for (records in c("12 months", "all")) {
            due <- !is.na(x$start) & !d$no_crest & x$closes <= c$last & (records == "all" | x$closes >= c$closing)
            here <- which(due & !is.na(x$c_mean))
            at <- windows$nominal[w]; p <- d$patient_id[here]; y <- x$c_mean[here]
            side <- ifelse(y < -detectable, "lost", ifelse(y > detectable, "gained", "within"))
            for (one in c("lost", "gained", "within")) {
                v <- if (is.na(detectable)) list(value = NA_real_, lower = NA_real_, upper = NA_real_) else share(as.numeric(side == one), p)
                do.call(want, c(list("crest_beyond_error", "window|beyond", paste0(records, "|", one), at, baseline, "mean", n = length(y), due = sum(due)),
                                blank(v, few(length(unique(p)), length(y), TRUE))))
            }
            for (one in c("same reader", "different readers")) {
                z <- two[here] == (one == "different readers")
                is_few <- few(length(unique(p[z])))
                do.call(want, c(list("crest_change", "window|readers", paste0(records, "|", one), at, baseline, "mean", n = sum(z), due = sum(due)),
                                blank(if (is_few) list() else cr2_mean(y[z], p[z]), is_few)))
            }
            # sites and patients' means that figures.R leaves open
            for (site in c("mesial", "distal")) if (sum(due) > 0) {
                y1 <- x[[if (site == "mesial") "c_m" else "c_d"]][due]; p1 <- d$patient_id[due][!is.na(y1)]; y1 <- y1[!is.na(y1)]
                is_few <- few(length(unique(p1)))
                do.call(want, c(list("crest_change", "window", records, at, baseline, site, n = length(y1)),
                                blank(if (is_few) list() else cr2_mean(y1, p1), is_few)))
            }
            if (sum(due) > 0) {
                means <- tapply(y, p, mean); m <- length(means)
                v <- if (m < 2) list() else list(value = mean(means), lower = mean(means) - qt(0.975, m - 1) * sd(means) / sqrt(m),
                                                 upper = mean(means) + qt(0.975, m - 1) * sd(means) / sqrt(m))
                do.call(want, c(list("crest_change", "window", records, at, baseline, "mean", unit = "patient"), blank(v, few(m))))
                y2 <- pmax(x$e_m, x$e_d)[due]; p2 <- d$patient_id[due][!is.na(y2)]; y2 <- y2[!is.na(y2)]
                v <- if (few(length(unique(p2)))) list() else mean_of_shares(as.numeric(hundredths(y2) > 50), p2)
                do.call(want, c(list("exposure_share", "window", records, at, baseline, "worse", unit = "patient"),
                                blank(v, few(length(unique(p2))))))
            }
        }
    }
    expect_yearly(c, error$s)
    expect_adjusted(c)
}

expect_yearly <- function(c, error) {
    d <- c$d
    old <- which(!d$no_crest & window_day(d$placed_on, 18) <= c$last)
    r <- do.call(rbind, lapply(old, function(i) slope_of(c$films[[i]], window_day(d$placed_on[i], 9), c$last, error)))
    if (is.null(r)) r <- matrix(numeric(0), 0, 3)
    ok <- !is.na(r[, 1]) & r[, 3] >= 0.75
    p <- d$patient_id[old][ok]; y <- r[ok, 1]; m <- tapply(y, p, mean)
    is_few <- few(length(unique(p)))
    do.call(want, c(list("crest_yearly", "window", "all", NA, "placement", "mean", n = length(y), due = length(old)),
                    blank(if (is_few) list() else cr2_mean(y, p), is_few)))
    v <- if (is_few) list() else list(value = mean(m), lower = mean(m) - qt(0.975, length(m) - 1) * sd(m) / sqrt(length(m)),
                                      upper = mean(m) + qt(0.975, length(m) - 1) * sd(m) / sqrt(length(m)))
    do.call(want, c(list("crest_yearly", "window", "all", NA, "placement", "mean", unit = "patient"), blank(v, is_few)))
    if (is.na(error)) return()
    do.call(want, c(list("crest_yearly_detectable", "window", "all", NA, "placement", "mean"),
                    blank(if (is_few) list() else woodruff(r[ok, 2], p), is_few)))
    want("crest_yearly_judgeable", "window", "all", NA, "placement", "mean", events = sum(r[ok, 2] <= 0.2),
         value = if (length(y) < least_share) NA_real_ else mean(r[ok, 2] <= 0.2))
}

# The model of change with its predictions: least squares where the program takes it, else lmer.
expect_adjusted <- function(c) {
    d <- c$d
    x <- resolve(c, "placement", 3)
    d$change <- (x$c_m + x$c_d) / 2
    y <- d[!d$no_crest & x$closes <= c$last & !is.na(d$change) & !is.na(d$achieved_depth_mm) & !is.na(d$tissue_mm) &
           !is.na(d$smoking) & !is.na(d$density_found), ]
    scale <- if (sum(y$density_found_scale == "LZ") > sum(y$density_found_scale == "D")) "LZ" else "D"
    y <- y[y$density_found_scale == scale, ]
    surgery <- y$depth_source %in% "surgery"
    y <- y[surgery == (sum(surgery) >= sum(!surgery)), ]
    if (few(length(unique(y$patient_id)))) return()
    centre <- c(mean(y$achieved_depth_mm), mean(y$tissue_mm))
    y$depth <- y$achieved_depth_mm - centre[1]
    y$tissue <- y$tissue_mm - centre[2]
    y$smoke <- droplevels(factor(y$smoking, c("never", "former", "current")))
    y$density <- droplevels(factor(y$density_found, 1:4))
    y$who <- factor(ifelse(is.na(y$operator), "~", y$operator))
    right <- c("depth", "tissue", if (nlevels(y$smoke) > 1) "smoke", if (nlevels(y$density) > 1) "density")
    patients <- length(unique(y$patient_id))
    fit_both <- function(right) {
        ls <- lm(reformulate(c(right, "depth:tissue"), "change"), y)
        if (anyNA(coef(ls)) || nrow(y) - length(coef(ls)) < 10) return(NULL)
        mixed <- suppressMessages(lmerTest::lmer(reformulate(c(right, "depth:tissue", "(1 | patient_id)"), "change"), y,
            control = lme4::lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12), check.conv.singular = "ignore")))
        sd <- as.data.frame(lme4::VarCorr(mixed))$sdcor[1]
        list(ls = ls, mixed = mixed, robust = patients < 60 || sd < 1e-6, unsure = patients >= 60 && sd >= 1e-6 && sd < 1e-3,
             v = vcovCR(ls, y$patient_id, type = "CR2"))
    }
    lonely <- function(f) any(tapply(y$patient_id, f, function(p) length(unique(p))) < 2)
    if (lonely(y$smoke) || lonely(y$density)) return()
    f <- fit_both(right)
    if (is.null(f) || f$unsure) return()
    # Variance of a prediction from the means it is taken at, which each patient shares in; b: coefficients.
    of_means <- function(b, w, in_class) {
        X <- model.matrix(f$ls)
        others <- setdiff(colnames(X), c("depth", "tissue", "depth:tissue"))
        share <- as.vector(scale(X[, others, drop = FALSE], scale = FALSE) %*% b[others]) / nrow(X)
        tissue <- y$tissue - mean(y$tissue[in_class])
        share <- share + in_class * tissue * (b["tissue"] + b["depth:tissue"] * w["depth"]) / sum(in_class)
        patients / (patients - 1) * sum(tapply(share, y$patient_id, sum)^2)
    }
    at_point <- function(measure, grouping, level, at, w, n, in_class = NULL) {
        b <- if (f$robust) coef(f$ls) else lme4::fixef(f$mixed)
        extra <- if (is.null(in_class)) 0 else of_means(b, w, in_class)
        if (f$robust) {
            t <- linear_contrast_test(f$ls, f$v, w)
            if (t[3] < 2.1) return()                                # on less than 2 df no limits are given
            half <- qt(0.975, t[3]) * sqrt(t[2]^2 + extra)
            want(measure, grouping, level, at, "placement", "mean", value = t[1], lower = t[1] - half, upper = t[1] + half, n = n)
        } else {
            t <- lmerTest::contest1D(f$mixed, w, ddf = "Satterthwaite")
            if (t$df < 2.1) return()
            half <- qt(0.975, t$df) * sqrt(t$`Std. Error`^2 + extra)
            want(measure, grouping, level, at, "placement", "mean", near_value = t$Estimate, near_lower = t$Estimate - half,
                 near_upper = t$Estimate + half, n = n)
        }
    }
    for (class in unique(na.omit(y$tissue_class))) {
        z <- y[y$tissue_class %in% class, ]
        if (few(length(unique(z$patient_id)))) next
        want("crest_predicted_tissue", "window|tissue_class", paste0("all|", class), NA, "placement", "mean", value = mean(z$tissue_mm), n = nrow(z))
        q <- quantile(z$achieved_depth_mm, c(0.05, 0.95), type = 7)
        m <- colMeans(model.matrix(f$ls))
        for (tenth in ceiling(q[1] * 10 - 1e-6):floor(q[2] * 10 + 1e-6)) {
            w <- m
            w["depth"] <- tenth / 10 - centre[1]; w["tissue"] <- mean(z$tissue)
            w["depth:tissue"] <- w["depth"] * w["tissue"]
            at_point("crest_predicted", "window|tissue_class", paste0("all|", class), tenth / 10, w, nrow(z), y$tissue_class %in% class)
        }
    }
    if (nlevels(y$who) < 2 || lonely(y$who)) return()
    f <- fit_both(c(right, "who"))
    if (is.null(f) || f$unsure) return()
    names <- names(coef(f$ls))
    ours <- sub("^who~$", "operator=not recorded", names)
    ours <- sub("^who", "operator=", ours)
    ours <- sub("^[(]Intercept[)]$", "intercept", ours)
    ours <- sub("^depth:tissue$", "achieved_depth_mm x tissue_mm", ours)
    ours <- sub("^depth$", "achieved_depth_mm", ours)
    ours <- sub("^tissue$", "tissue_mm", ours)
    ours <- sub("^smoke", "smoking=", ours)
    ours <- sub("^density([1-4])$", paste0("density_found=", scale, "\\1"), ours)
    for (j in seq_along(names)) at_point("crest_model_operator", "window|term", paste0("all|", ours[j]), 12, as.numeric(seq_along(names) == j), nrow(y))
}

# --- stores ------------------------------------------------------------------------------------------------
# The sample practice, and the same with its records changed at random; findings and lines thinned out as well.
more <- function(seed) {
    r <- function(k) sprintf("(abs(id * %d + %d) %% 997)", 6007 + 2 * seed, 17 * seed + k)
    c(sprintf("update reading set mobile = 1 where mobile is not null and %s < 20", r(1)),
      sprintf("update reading set pain = null where %s < 200", r(2)),
      sprintf("update reading set suppuration = 1 where suppuration is not null and %s < 60", r(3)),
      sprintf("update reading set probing_mm = probing_mm + 3 where probing_mm < 8 and %s < 90", r(4)),
      sprintf("update implant set loaded_on = null, loaded = 0 where %s < 40", r(5)),
      sprintf("update implant set loaded_on = null, loaded = null where %s between 41 and 80", r(6)),
      sprintf("update implant set operator = null where %s < 60", r(7)),
      sprintf("insert or ignore into event (patient_id, implant_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, id, placed_on + 300 + %s, 'unused', 1, 1, 1 from implant where %s < 50", r(8), r(9)),
      if (seed == 3) "delete from reading where reading > 1")                                           # nothing read twice
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
    if (i > 1) must("outcomes", set, change_store(store, unlist(c(change(store, i), more(i)))), "change of the store")
    rows$all <- rows$near <- list()
    s <- read_store(store)
    c1 <- cohort(s, day(sets[[i]]$from), day(sets[[i]]$to))
    first_readings <- s$reading[s$reading$seen_on <= c1$last & s$reading$reading == 1 &
                                (!is.na(s$reading$level_mesial_mm) | !is.na(s$reading$level_distal_mm)), ]
    count <- table(first_readings$reader)
    named <- s$setting$primary_reader
    c1$primary <- if (!is.null(named) && !is.na(named) && nzchar(named)) named else sort(names(count)[count == max(count)])[1]
    expect_success(c1, s)
    expect_one_each(c1)
    expect_survival_checks(c1)
    expect_crest_checks(c1, s)
    ours <- observed(store, sets[[i]]$from, sets[[i]]$to)
    compare("outcomes", set, ours, do.call(rbind, rows$all))
    near <- do.call(rbind, rows$near)
    recomputed(near)
    if (!is.null(near)) {
        error <- relative_error(near$quantity, ours$value[match(key_of(near), key_of(ours))], near$value, near$scale)
        must("outcomes", set, all(error < 100 * limit), paste("mixed model", key_of(near)[which.max(error)], max(error)))
    }
    show_differences(i, ours, do.call(rbind, rows$all))
}
finish()
