# Sections `yardsticks` and `precision` of the audit against R, from the base tables: earlier periods are cohorts of their own, the
# variance of a change comes from clubSandwich on the stacked periods, of a difference of curves from each patient's influence
# summed event by event, yardsticks are judged here from intervals computed here. The cohort is that of figures.R, whose
# functions are taken without running it.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
for (e in parse(file.path(Sys.getenv("ORACLE"), "figures.R")))
    if (deparse(e[[1]])[1] %in% c("<-", "suppressPackageStartupMessages") && !identical(e[[2]], quote(base))) eval(e)

# --- the compared figures: the cases of one cohort ------------------------------------------------------------
early_state <- function(c) {
    e <- c$ends("last sighting")
    ifelse(e$cause == 1 & e$exit <= 180, 1, ifelse(e$cause != 0 | e$exit >= 180, 0, NA))
}

cases_of <- function(c) {
    d <- c$d
    pick <- function(rows, y) { x <- data.frame(patient = d$patient_id[rows], y = y[rows]); x[!is.na(x$y), ] }
    error <- d$achieved_depth_mm - d$planned_depth_mm
    lately <- d$placed_on >= c$year
    cut <- min(c$cuts("torque")$upper_cut, na.rm = TRUE)
    low <- as.numeric(hundredths(d$final_torque_ncm) < hundredths(cut))
    low[low %in% 1 & d$final_torque_capped %in% 1] <- NA
    film <- resolve(c, "placement", 3)
    due <- !d$no_crest & film$closes >= c$closing & film$closes <= c$last
    due_early <- !d$no_survival & d$placed_on + 180 <= c$last & d$placed_on + 180 >= c$closing & (is.na(c$since) | d$placed_on >= c$since)
    list(depth_bias = pick(lately & !d$no_depth, error),
         depth_within_half = pick(lately & !d$no_depth, as.numeric(abs(hundredths(error)) <= 50)),
         low_torque = pick(lately & !d$no_stability, low),
         crest_change = pick(due, (film$c_m + film$c_d) / 2),
         exposure_share = pick(due, as.numeric(hundredths(pmax(film$e_m, film$e_d)) > 50)),
         early_failure = pick(due_early, early_state(c)),
         read_share = pick(due, as.numeric(!is.na(film$c_m + film$c_d))))
}
is_share <- function(name) !name %in% c("depth_bias", "crest_change")
place_of <- function(name) switch(name, crest_change = list(at = 12, baseline = "placement", site = "mean"),
    exposure_share = list(at = 12, baseline = "placement", site = "worse"), read_share = list(at = 12, baseline = "placement", site = ""),
    list(at = NA, baseline = "", site = ""))

too_few <- function(x, name) length(unique(x$patient)) < least_patients || (is_share(name) && nrow(x) < least_share)
estimate <- function(x, name) if (is_share(name)) share(x$y, x$patient) else cr2_mean(x$y, x$patient)

# Patients whose events of the rarer kind are not the same in both.
apart <- function(now, then) {
    rarer <- as.numeric(2 * (sum(now$y) + sum(then$y)) <= nrow(now) + nrow(then))
    patients <- union(now$patient, then$patient)
    count <- function(x) tapply(x$y == rarer, factor(x$patient, patients), sum)
    a <- count(now); b <- count(then)
    a[is.na(a)] <- 0; b[is.na(b)] <- 0
    sum(a != b)
}

none <- list(value = NA_real_, lower = NA_real_, upper = NA_real_, p = NA_real_)

change_of <- function(now, then, name) {
    if (too_few(now, name) || too_few(then, name) || (is_share(name) && apart(now, then) < 5)) return(none)
    x <- rbind(cbind(then, now = 0), cbind(now, now = 1))
    all_one <- is_share(name) && any(tapply(x$y, x$now, function(y) length(unique(y)) == 1))
    if (all_one) return(NULL)                       # limits joined from both shares: checked by mean.R
    cr2_slope(y ~ now, x, x$patient, "now")
}

expect_then <- function(name, level, x) {
    p <- place_of(name)
    e <- if (nrow(x)) estimate(x, name) else list()
    do.call(want, c(list(paste0(name, "_then"), "change", level, p$at, p$baseline, p$site, n = nrow(x),
                         patients = length(unique(x$patient))), blank(e, too_few(x, name))))
    list(e = e, few = too_few(x, name))
}

# --- survival: the influence of each patient on S(t), from the counting process ------------------------------
followed <- function(c, how) {
    e <- c$ends(how)
    use <- c$d$analysed & e$there
    data.frame(patient = c$d$patient_id, e)[use, ]
}

influence <- function(e, t) {
    start <- ifelse(e$entry == 0, -1, e$entry)
    times <- sort(unique(e$exit[e$cause == 1 & e$exit <= t]))
    s <- 1
    psi <- setNames(numeric(length(unique(e$patient))), unique(e$patient))
    for (u in times) {
        here <- start < u & e$exit >= u
        fails <- here & e$exit == u & e$cause == 1
        n <- sum(here); k <- sum(fails)
        s <- s * (1 - k / n)
        term <- (n * fails - k * here) / (n * (n - k))
        add <- tapply(term, e$patient, sum)
        psi[names(add)] <- psi[names(add)] + add
    }
    list(s = s, psi = -s * psi, patients = length(unique(e$patient[start < t & e$exit >= t])), n = sum(start < t & e$exit >= t),
         reaches = max(e$exit) >= t || s == 0)
}

failures_until <- function(e, t) { x <- e[e$cause == 1 & e$exit <= t, ]; table(x$patient) }

apart_counts <- function(a, b) {
    patients <- union(names(a), names(b))
    x <- as.numeric(a[patients]); y <- as.numeric(b[patients])
    x[is.na(x)] <- 0; y[is.na(y)] <- 0
    sum(x != y)
}

expect_survival_change <- function(now, then, level) {
    for (how in c("last sighting", "recall")) for (year in c(1, 5)) {
        t <- year * 365.25
        a <- followed(now, how); b <- followed(then, how)
        grouping <- if (how == "recall") "change|censoring" else "change"
        name <- if (how == "recall") paste0(level, "|recall") else level
        measure <- if (year == 1) "survival_one_year_change" else "survival_five_years_change"
        if (nrow(a) == 0 || nrow(b) == 0) next
        x <- influence(a, t); y <- influence(b, t)
        e <- none
        if (x$patients >= least_patients && y$patients >= least_patients &&
            apart_counts(failures_until(a, t), failures_until(b, t)) >= 5) {
            if (x$s %in% c(0, 1) || y$s %in% c(0, 1) || !x$reaches || !y$reaches) next
            patients <- union(names(x$psi), names(y$psi))
            p <- x$psi[patients]; q <- y$psi[patients]
            p[is.na(p)] <- 0; q[is.na(q)] <- 0
            se <- sqrt(sum((p - q)^2))
            d <- x$s - y$s
            e <- list(value = d, lower = d - qnorm(0.975) * se, upper = d + qnorm(0.975) * se, p = 2 * pnorm(-abs(d / se)))
        }
        if (how == "recall") e$p <- NA_real_
        do.call(want, c(list(measure, grouping, name, year, n = x$n, patients = x$patients), e))
    }
}

# S(t) with limits on the double-log scale, the lower one widened where fewer are at risk than at the last failure; events and
# those at risk at t.
survival_at <- function(e, t) {
    start <- ifelse(e$entry == 0, -1, e$entry)
    at_risk <- start < t & e$exit >= t
    counts <- list(n = sum(at_risk), patients = length(unique(e$patient[at_risk])), events = sum(e$cause == 1 & e$exit <= t))
    v <- list(value = NA_real_, lower = NA_real_, upper = NA_real_)
    if (nrow(e) > 0 && t <= max(e$exit) && counts$patients >= least_patients) {
        fit <- survfit(Surv(start, e$exit, e$cause == 1) ~ 1, cluster = e$patient)
        k <- sum(fit$time <= t)
        v$value <- if (k == 0) 1 else fit$surv[k]
        if (v$value == 1) v[c("lower", "upper")] <- list(binom.test(counts$patients, counts$patients)$conf.int[1], 1)
        if (v$value > 0 && v$value < 1) {
            then <- fit$n.risk[max(which(fit$n.event[1:k] > 0))]
            v$upper <- loglog(v$value, error_of_s(fit, k))[2]
            v$lower <- loglog(v$value, error_of_s(fit, k) * sqrt(max(1, then / counts$n)))[1]
        }
    }
    c(v, counts)
}

expect_survival_then <- function(then, level) {
    for (how in c("last sighting", "recall")) for (year in c(1, 5)) {
        e <- followed(then, how)
        if (nrow(e) == 0) next
        measure <- if (year == 1) "survival_one_year_then" else "survival_five_years_then"
        do.call(want, c(list(measure, if (how == "recall") "change|censoring" else "change",
                             if (how == "recall") paste0(level, "|recall") else level, year), survival_at(e, year * 365.25)))
    }
}

# --- rate ------------------------------------------------------------------------------------------------------
at_risk <- function(c) {
    e <- c$ends("last sighting")
    from <- c$d$placed_on + e$entry; until <- c$d$placed_on + e$exit
    use <- c$d$analysed & e$there & until >= c$year
    data.frame(patient = c$d$patient_id, years = (until - pmax(from, c$year - 1)) / 365.25, failed = as.numeric(e$cause == 1))[use, ]
}

expect_rate_change <- function(now, then, level) {
    a <- at_risk(now); b <- at_risk(then)
    patients <- as.character(union(a$patient, b$patient))
    by <- function(x, v) { s <- tapply(x[[v]], factor(x$patient, patients), sum); s[is.na(s)] <- 0; s }
    e <- none
    fewest <- min(length(unique(a$patient)), length(unique(b$patient)))
    if (fewest >= least_patients && sum(by(a, "failed") != by(b, "failed")) >= 5) {
        if (sum(a$failed) == 0 || sum(b$failed) == 0) return()
        r <- sum(a$failed) / sum(a$years); q <- sum(b$failed) / sum(b$years)
        psi <- (by(a, "failed") - r * by(a, "years")) / sum(a$years) - (by(b, "failed") - q * by(b, "years")) / sum(b$years)
        df <- length(patients) - 1
        se <- 100 * sqrt((df + 1) / df * sum(psi^2))
        d <- 100 * (r - q)
        e <- list(value = d, lower = d - qt(0.975, df) * se, upper = d + qt(0.975, df) * se, p = 2 * pt(-abs(d / se), df))
    }
    do.call(want, c(list("failure_rate_change", "change", level, n = nrow(a), patients = length(unique(a$patient))), e))
}

expect_rate_then <- function(then, level) {
    a <- at_risk(then)
    k <- tapply(a$failed, a$patient, sum); t <- tapply(a$years, a$patient, sum)
    groups <- length(k)
    if (groups < least_patients || sum(k) == 0) return()
    r <- sum(k) / sum(t)
    factor <- exp(qt(0.975, groups - 1) * sqrt(groups / (groups - 1) * sum((k - r * t)^2)) / sum(t) / r)
    want("failure_rate_then", "change", level, value = 100 * r, lower = 100 * r / factor, upper = 100 * r * factor, n = nrow(a),
         events = sum(k))
}

# --- yardsticks ------------------------------------------------------------------------------------------------
yardstick_of <- c(`depth-within-half` = "depth_within_half", `crest-at-a-year` = "crest_change", `early-failure` = "early_failure",
                  `seen-at-a-year` = "read_share")

judge <- function(target, e, is_few) {
    if (is_few || !length(e)) return(0)
    at_least <- target$direction == "at_least"
    met <- if (at_least) e$lower >= target$value else e$upper <= target$value
    missed <- if (at_least) e$upper < target$value else e$lower > target$value
    if (isTRUE(met)) 1 else if (isTRUE(missed)) -1 else 0
}

in_force <- function(targets, name, first) {
    x <- targets[targets$yardstick == name & targets$valid_from <= first, ]
    x <- x[order(x$valid_from), ]
    if (nrow(x) == 0 || is.na(tail(x$value, 1))) NULL else tail(x, 1)
}

expect_states <- function(s, first, states, measure, grouping, suffix) {
    for (name in names(yardstick_of)) {
        target <- in_force(s$targets, name, first)
        x <- states[[yardstick_of[[name]]]]
        want(measure, grouping, paste0(name, suffix), value = if (is.null(target)) NA_real_ else judge(target, x$e, x$few))
        if (measure == "yardstick_state") {
            want("yardstick_target", "yardstick", name, unit = "", value = if (is.null(target)) NA_real_ else target$value)
            do.call(want, c(list("yardstick_value", "yardstick", name), blank(x$e, x$few)))
        }
    }
}

# That of survival is met, or not, only where both ways of ending follow-up say so.
expect_survival_yardstick <- function(s, now, first) {
    name <- "survival-five-years"
    target <- in_force(s$targets, name, first)
    both <- lapply(c("last sighting", "recall"), function(how) {
        e <- followed(now, how)
        if (nrow(e) == 0) list(value = NA_real_, lower = NA_real_, upper = NA_real_) else survival_at(e, 5 * 365.25)[1:3] })
    do.call(want, c(list("yardstick_value", "yardstick", name), both[[1]]))
    judged <- sapply(both, function(e) judge(target, e, is.na(e$value)))
    state <- if (is.null(target)) NA_real_ else if (judged[1] == judged[2]) judged[1] else 0
    want("yardstick_state", "yardstick", name, value = state)
    state
}

# How many stand how: of the four judged above and survival's.
expect_standings <- function(states) {
    for (k in 1:4) want("yardsticks_standing", "status", c("not met", "cannot tell", "met", "no target set")[k], unit = "",
                        value = if (k == 4) sum(is.na(states)) else sum(states %in% (k - 2)))
}

# --- how many more ---------------------------------------------------------------------------------------------
smallest <- function(ok) { high <- 1; while (!ok(high)) { high <- high * 2; if (high > 1e9) return(NA) }
    low <- high / 2; if (high == 1) return(1)
    while (high - low > 1) { middle <- floor((low + high) / 2); if (ok(middle)) high <- middle else low <- middle }
    high }

likeness <- function(y, patient) {
    m <- as.numeric(table(patient))
    if (length(m) < 2 || length(y) == length(m)) return(0)
    table <- summary(aov(y ~ factor(patient)))[[1]]
    m0 <- (length(y) - sum(m^2) / length(y)) / (length(m) - 1)
    msb <- table[1, "Mean Sq"]; msw <- table[2, "Mean Sq"]
    icc <- (msb - msw) / (msb + (m0 - 1) * msw)
    max(0, min(1, icc))
}

expect_precision <- function(s, cases) {
    for (name in names(yardstick_of)) {
        x <- cases[[yardstick_of[[name]]]]
        width <- s$widths$readable_width[s$widths$name == name]
        if (length(unique(x$patient)) < least_patients) next
        m <- as.numeric(table(x$patient))
        per <- sum(m^2) / sum(m)
        icc <- likeness(x$y, x$patient)
        deff <- 1 + (per - 1) * icc
        if (is_share(yardstick_of[[name]])) {
            p <- mean(x$y); z <- qnorm(0.975)
            ok <- function(n) { e <- n / deff; 2 * z * sqrt(p * (1 - p) / e + z^2 / (4 * e^2)) / (1 + z^2 / e) <= width }
        } else {
            ok <- function(n) { k <- ceiling(n / per * (1 - 1e-15)); k > 1 && 2 * qt(0.975, k - 1) * sd(x$y) * sqrt(deff / n) <= width }
        }
        needed <- smallest(ok)
        further <- max(0, needed - nrow(x))
        want("needed", "question", name, value = needed, n = nrow(x))
        want("further", "question", name, value = further)
        want("months", "question", name, value = if (further > 0) further / (nrow(x) / 12) else 0)
        want("per_patient", "question", name, value = per)
        want("wanted", "question", name, value = width)
        want("a_month", "question", name, value = nrow(x) / 12)
        want("spread", "question", name, value = if (is_share(yardstick_of[[name]])) mean(x$y) else sd(x$y))
        if (icc > 1e-9) want("likeness", "question", name, value = icc)
    }
}

# --- stores ----------------------------------------------------------------------------------------------------
base <- file.path(oracle$folder, "base.db")
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("new", "--store", base)
run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
# The last: everything before and after a year, so that five years are known of enough patients then and now.
sets <- list(list("2026-04-01", "2026-06-30", "2026-01-01", "2026-03-31", "2025-04-01", "2025-06-30"),
             list("2025-01-01", "2025-12-31", "2024-01-01", "2024-12-31", "2024-01-01", "2024-12-31"),
             list("2024-07-01", "2024-09-30", "2024-04-01", "2024-06-30", "2023-07-01", "2023-09-30"),
             list("2021-01-01", "2021-03-31", "2020-10-01", "2020-12-31", "2020-01-01", "2020-03-31"),
             list("2023-01-01", "2026-06-30", "2019-07-01", "2022-12-31", "2022-01-01", "2025-06-30"),
             list("2026-06-01", "2026-06-30", "2026-05-01", "2026-05-31", "2025-06-01", "2025-06-30"))
for (i in seq_along(sets)) {
    dates <- sets[[i]]
    set <- structure(list(seed = i, kind = paste(dates[[1]], dates[[2]])), class = "data_set")
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    statements <- if (i > 1) unlist(change(store, i)) else NULL
    set.seed(i)
    for (name in c(names(yardstick_of), "survival-five-years")) for (year in c(2020, 2024, 2026)) {
        value <- if (name == "crest-at-a-year") -round(runif(1, 0.2, 1.2), 2) else round(runif(1), 2)
        statements <- c(statements, sprintf(
            "insert into yardstick_target (yardstick, value, direction, origin, valid_from, set_by) values ('%s', %s, '%s', 'ours', %d, 'A')",
            name, if (runif(1) < 0.15) "NULL" else value, if (runif(1) < 0.5) "at_least" else "at_most", day(paste0(year, "-01-01"))))
    }
    if (i == 6) # placed three years earlier, with all that followed, and more failures lately: five years are known then and now
        statements <- c(statements, "update implant set placed_on = placed_on - 1100, loaded_on = null, loaded = null",
                        "update reading set seen_on = seen_on - 1100 where id % 3 = 0", "update setting set value = '' where name = 'complete_since'",
                        "insert into event (patient_id, implant_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, id, placed_on + 1500 + id % 300, 'removed', 1, 1, 1 from implant where id % 9 = 0 and not exists (select 1 from event e where e.implant_id = implant.id)")
    must("figures_meeting", set, change_store(store, statements), "the store could not be changed")
    s <- read_store(store)
    s$targets <- read_sql(store, "select * from yardstick_target")
    s$widths <- read_sql(store, "select * from yardstick")
    rows$all <- rows$near <- list()
    now <- cohort(s, day(dates[[1]]), day(dates[[2]]))
    cases <- cases_of(now)
    expect_states(s, day(dates[[1]]), lapply(setNames(names(cases), names(cases)), function(n)
        list(e = if (nrow(cases[[n]])) estimate(cases[[n]], n) else list(), few = too_few(cases[[n]], n))), "yardstick_state", "yardstick", "")
    four <- sapply(names(yardstick_of), function(n) { target <- in_force(s$targets, n, day(dates[[1]])); x <- cases[[yardstick_of[[n]]]]
        if (is.null(target)) NA else judge(target, if (nrow(x)) estimate(x, yardstick_of[[n]]) else list(), too_few(x, yardstick_of[[n]])) })
    expect_standings(c(four, expect_survival_yardstick(s, now, day(dates[[1]]))))
    expect_precision(s, cases)
    for (k in 1:2) {
        level <- c("last period", "a year ago")[k]
        first <- day(dates[[2 * k + 1]])
        then <- tryCatch(cohort(s, first, day(dates[[2 * k + 2]])), error = function(e) NULL)
        if (is.null(then) || nrow(then$d) == 0) next
        before <- cases_of(then)
        states <- lapply(setNames(names(before), names(before)), function(n) expect_then(n, level, before[[n]]))
        expect_states(s, first, states, "yardstick_before", "yardstick|change", paste0("|", level))
        for (n in names(cases)) {
            e <- change_of(cases[[n]], before[[n]], n)
            p <- place_of(n)
            if (!is.null(e)) do.call(want, c(list(paste0(n, "_change"), "change", level, p$at, p$baseline, p$site, n = nrow(cases[[n]])), e))
        }
        expect_survival_change(now, then, level)
        expect_survival_then(then, level)
        expect_rate_change(now, then, level)
        expect_rate_then(then, level)
    }
    ours <- observed(store, dates[[1]], dates[[2]])
    theirs <- do.call(rbind, rows$all)
    compare("figures_meeting", set, ours, theirs)
    show_differences(i, ours, theirs)
}
finish()
