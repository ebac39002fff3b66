# How many more cases the house rules and the survival yardstick need, figures restated since a recorded audit, and the notes, against
# R from the base tables. What was printed is read from the recorded figures; what it would be today, the cases, spreads and
# sample sizes are worked out again here. The rules are those of figures_rules.R, the compared figures those of figures_meeting.R,
# whose functions are taken without running them.
text <- readLines(file.path(Sys.getenv("ORACLE"), "figures_rules.R"))
eval(parse(text = text[seq_len(grep("^# --- stores", text)[1] - 1)]))
for (e in parse(file.path(Sys.getenv("ORACLE"), "figures_meeting.R")))
    if (identical(e[[1]], quote(`<-`)) && (is.call(e[[3]]) && identical(e[[3]][[1]], quote(`function`)) || identical(e[[2]], quote(yardstick_of)))) eval(e)

# --- how many more -------------------------------------------------------------------------------------------
# Spread within the groups, likeness of what is left within patients, size of a patient that counts.
spread_within <- function(y, group, patient) {
    rest <- y - ave(y, group)
    m <- as.numeric(table(patient))
    list(sd = sqrt(sum(rest^2) / (length(y) - length(unique(c(group, if (length(unique(group)) < 2) NA))))),
         icc = if (length(m) < 2 || length(y) == length(m)) 0 else likeness(rest, patient), per = sum(m^2) / sum(m), patients = length(m))
}

answer_share <- function(p, width, from) smallest(function(n) { e <- n / design(from); z <- qnorm(0.975)
    2 * z * sqrt(p * (1 - p) / e + z^2 / (4 * e^2)) / (1 + z^2 / e) <= width })
design <- function(from) 1 + (from$per - 1) * from$icc
answer_share_difference <- function(p, d, from) smallest(function(n) {
    q <- p + d; both <- (p + q) / 2; e <- n / design(from)
    pnorm((sqrt(e) * abs(d) - qnorm(0.975) * sqrt(2 * both * (1 - both))) / sqrt(p * (1 - p) + q * (1 - q))) >= 0.8 })
answer_difference <- function(sd, d, from) smallest(function(n) {
    df <- 2 * (ceiling(n / from$per * (1 - 1e-15)) - 1)
    df >= 1 && pt(qt(0.975, df), df, abs(d) / (sd * sqrt(2 * design(from) / n)), lower.tail = FALSE) >= 0.8 })

plan_rows <- function(name, wanted, from, spread, needed, have, a_month) {
    known <- from$patients >= least_patients
    further <- max(0, needed - have)
    for (x in list(list("wanted", wanted), list("likeness", if (known) from$icc else NA_real_), list("per_patient", if (known) from$per else NA_real_),
                   list("needed", needed), list("further", if (is.na(needed)) NA_real_ else further), list("a_month", a_month),
                   list("months", if (is.na(needed) || (further > 0 && a_month == 0)) NA_real_ else if (further > 0) further / a_month else 0),
                   if (!is.na(spread)) list("spread", spread)))
        if (!is.null(x) && !(x[[1]] == "likeness" && isTRUE(abs(x[[2]]) < 1e-9))) want(x[[1]], "question", name, value = x[[2]])
}

plan_rule <- function(c, rule) {
    f <- facts(c, rule)
    lately <- sapply(0:1, function(g) sum(f$followed %in% g & c$d$placed_on >= c$year))
    s <- f[!is.na(f$followed) & !is.na(f$y), ]
    if (nrow(s) == 0) return()
    group <- as.numeric(s$followed)
    from <- spread_within(s$y, group, s$patient)
    if (rule$direction == "value") return(plan_value(rule, f, from, sum(lately) / 12))
    known <- from$patients >= least_patients
    count <- sapply(0:1, function(g) sum(group == g))
    share <- !(rule$outcome %in% c("crest_change", "final_torque", "torque_per_mm"))
    needed <- spread <- NA_real_
    if (known && share) {
        without <- patients(s$patient[group == 0]) >= least_patients
        spread <- if (without) mean(s$y[group == 0]) else mean(s$y)
        d <- rule$smallest_difference * if (rule$direction == "lower") -1 else 1
        needed <- answer_share_difference(spread, if (spread + d >= 0 && spread + d <= 1) d else -d, from)
    } else if (known) {
        spread <- from$sd
        needed <- answer_difference(spread, rule$smallest_difference, from)
    }
    if (!known) return(plan_rows(rule$name, rule$smallest_difference, from, spread, needed, 0, 0))
    takes <- ifelse(pmax(0, needed - count) > 0, pmax(0, needed - count) / (lately / 12), 0)
    g <- if (takes[1] > takes[2]) 1 else if (takes[2] > takes[1] || count[2] < count[1]) 2 else 1
    plan_rows(rule$name, rule$smallest_difference, from, spread, needed, count[g], lately[g] / 12)
}

# The rows of section rules are expected first: their interval is what narrows.
plan_value <- function(rule, f, from, a_month) {
    all <- do.call(rbind, rows$all)
    measure <- if (rule$name == "tissue-plus-depth") "rule_knee" else "rule_slope_adjusted"
    cell <- function(field) { x <- all$value[all$quantity == paste(measure, field) & grepl(rule$name, all$group, fixed = TRUE)]; if (length(x)) x[1] else NA_real_ }
    n <- if (measure == "rule_knee") sum(!is.na(f$followed) & !is.na(f$y)) else cell("n")
    located <- TRUE
    if (measure == "rule_knee") {
        kept <- all[all$quantity == "rule_knee_compatible value", ]
        kept <- kept$value[order(kept$at)]
        located <- length(kept) > 0 && !kept[1] && !tail(kept, 1) && sum(diff(c(0, kept)) == 1) == 1
    }
    needed <- if (located) ceiling(n * ((cell("upper") - cell("lower")) / rule$largest_width)^2) else NA_real_
    plan_rows(rule$name, rule$largest_width, from, NA_real_, needed, n, a_month)
}

plan_survival <- function(c, width) {
    e <- followed(c, "last sighting")
    m <- spread_within(as.numeric(e$cause == 1), rep(0, nrow(e)), e$patient)
    placed <- c$d$placed_on[c$d$analysed & c$ends("last sighting")$there]
    days <- floor(5 * 365.25)
    there <- e$exit >= days & e$entry < days
    s <- NA_real_
    for (year in 5:1) if (is.na(s)) s <- survival_at(e, year * 365.25)$value
    if (is.na(s)) m$patients <- 0
    plan_rows("survival-five-years", width, m, s, if (is.na(s)) NA_real_ else answer_share(s, width, m), sum(there),
              sum(there & placed + days >= c$year) / 12)
}

# --- what was printed ------------------------------------------------------------------------------------------
compared <- list(depth_bias = c("depth", "depth_bias", "window", "12 months", NA), depth_within_half = c("depth", "depth_within_half", "window", "12 months", NA),
    low_torque = c("stability", "low_torque", "window", "12 months", NA), crest_change = c("crest", "crest_change", "window", "12 months", 12),
    exposure_share = c("crest", "exposure_share", "window", "12 months", 12), early_failure = c("survival", "early_failure", "window", "12 months", NA),
    failure_rate = c("survival", "failure_rate", "window", "12 months", NA), survival_one_year = c("survival", "survival", "censoring", "last sighting", 1),
    survival_five_years = c("survival", "survival", "censoring", "last sighting", 5), read_share = c("flow", "read_share", "window", "12 months", 12))

printed <- function(store, name, first, last) {
    k <- compared[[name]]
    site <- switch(name, crest_change = "mean", exposure_share = "worse", "")
    read_sql(store, sprintf("select value, lower, upper, n_implants, n_patients, n_events from figure where audit_id = (select id from audit where first_day = %d and last_day = %d order by recorded_at desc, id desc limit 1) and section = '%s' and measure = '%s' and grouping = '%s' and level = '%s' and at is %s and baseline = '%s' and site = '%s' and unit_of_analysis = 'implant'",
        first, last, k[1], k[2], k[3], k[4], if (is.na(k[5])) "null" else k[5], if (k[5] %in% 12) "placement" else "", site))
}

# The compared figures of a cohort as they are today, with their counts.
today <- function(c) {
    cases <- cases_of(c)
    one <- lapply(setNames(names(cases), names(cases)), function(n) {
        x <- cases[[n]]
        c(if (too_few(x, n)) none[1:3] else estimate(x, n)[c("value", "lower", "upper")],
          list(n = nrow(x), patients = length(unique(x$patient)), events = if (is_share(n)) sum(x$y) else NA_real_)) })
    e <- followed(c, "last sighting")
    a <- at_risk(c)
    k <- tapply(a$failed, a$patient, sum); t <- tapply(a$years, a$patient, sum)
    groups <- length(k)
    r <- sum(k) / sum(t)
    factor <- exp(qt(0.975, groups - 1) * sqrt(groups / (groups - 1) * sum((k - r * t)^2)) / sum(t) / r)
    rate <- list(value = 100 * r, lower = 100 * r / factor, upper = 100 * r * factor, n = nrow(a), patients = groups, events = sum(k))
    c(one, list(survival_one_year = survival_at(e, 365.25), survival_five_years = survival_at(e, 5 * 365.25), failure_rate = rate))
}

expect_restated <- function(store, c, first, last, level) {
    count <- 0
    now <- today(c)
    for (name in names(now)) {
        p <- printed(store, name, first, last)
        if (is.null(p)) next
        x <- as.numeric(p[1, ]); y <- as.numeric(unlist(now[[name]]))
        if (is.na(x[6])) y[6] <- NA_real_                                     # no events are counted of this figure
        same <- all(is.na(x) == is.na(y)) && all(abs(x - y) < 1e-7, na.rm = TRUE)
        if (same) next
        count <- count + 1
        want("as_printed", "figure|change", paste0(name, "|", level), value = p$value, lower = p$lower, upper = p$upper)
    }
    want("restated", "change", level, unit = "", value = count)
}

# --- stores ----------------------------------------------------------------------------------------------------
none <- list(value = NA_real_, lower = NA_real_, upper = NA_real_, p = NA_real_)
base <- file.path(oracle$folder, "base.db")
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("new", "--store", base)
run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
run("yardstick", "--store", base, "seen-at-a-year", "--at-least", "0.9", "--from", "2025-01-01", "--by", "A")
for (q in c("2026Q1", "2026Q2")) run("audit", "--store", base, "--period", q, "--out", file.path(oracle$folder, q))
run("note", "--store", base, "--decision", "'see them again'", "--by", "A", "--about", "seen-at-a-year", "--period", "2026Q1", "--on", "2026-04-14")
run("note", "--store", base, "--decision", "'measure again'", "--by", "A", "--about", "depth_bias", "--period", "2026Q1", "--on", "2026-04-14", "--due", "2027-01-01")
run("note", "--store", base, "--decision", "'count again'", "--by", "A", "--about", "survival_one_year", "--period", "2026Q1", "--on", "2026-04-14")
run("note", "--store", base, "--answer", "3", "--reply", "'counted'", "--by", "B", "--period", "2026Q2")
shift <- function(k) sprintf("(abs(id * 7919 + 31 * %d) %%%% 997)", k)
late <- list(NULL,
    # depths corrected, films read late, a failure told late: some figures are restated, others are not
    c("update implant set achieved_depth_mm = achieved_depth_mm + 0.3 where id % 4 = 0",
      "update reading set level_mesial_mm = level_mesial_mm - 0.4 where id % 5 = 0"),
    # more failures told of, torque not touched
    "insert into event (patient_id, implant_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, id, placed_on + 100, 'removed', 1, 1, 1 from implant where id % 17 = 0 and not exists (select 1 from event e where e.implant_id = implant.id)")
for (i in seq_along(late)) {
    set <- structure(list(seed = i, kind = "2026Q2"), class = "data_set")
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    if (!is.null(late[[i]])) must("figures_planning", set, change_store(store, late[[i]]), "change of the store")
    rows$all <- rows$near <- list()
    s <- read_store(store)
    now <- cohort(s, day("2026-04-01"), day("2026-06-30"))
    before <- cohort(s, day("2026-01-01"), day("2026-03-31"))
    expect_rules(now, read_rules(store))
    for (rule in read_rules(store)) plan_rule(now, rule)
    rows$all <- Filter(function(x) !startsWith(x$quantity[1], "rule_"), rows$all)     # those are figures_rules.R's
    plan_survival(now, read_sql(store, "select readable_width from yardstick where name = 'survival-five-years'")[[1]])
    if (i > 1) expect_restated(store, now, day("2026-04-01"), day("2026-06-30"), "this period")
    expect_restated(store, before, day("2026-01-01"), day("2026-03-31"), "last period")
    for (k in 1:3) want("notes", "status", c("open", "due", "answered")[k], unit = "", value = 1)
    for (k in c(1, 3)) {
        about <- c("read_share", "", "survival_one_year")[k]
        p <- printed(store, about, day("2026-01-01"), day("2026-03-31"))
        want("note_then", "note", as.character(k), value = p$value, lower = p$lower, upper = p$upper)
        do.call(want, c(list("note_now", "note", as.character(k)), today(now)[[about]][c("value", "lower", "upper")]))
    }
    ours <- observed(store, "2026-04-01", "2026-06-30")
    theirs <- do.call(rbind, rows$all)
    compare("figures_planning", set, ours, theirs)
    must("figures_planning", set, sum(grepl("^as_printed value", ours$quantity)) == sum(grepl("^as_printed value", theirs$quantity)), "no other figure is told as restated")
    must("figures_planning", set, i == 1 || any(grepl("^as_printed value", theirs$quantity)), "something is restated")
    show_differences(i, ours, theirs)
}
finish()
