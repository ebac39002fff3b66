# Section `operators` of the audit against R, from the base tables: sessions, charts, expected failures, quarters, differences and
# the funnel are computed again here. What a chart's limit promises, a number of sessions between false signals, is held against
# streams simulated here. The cohort is that of figures.R, whose functions are taken without running it.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
for (e in parse(file.path(Sys.getenv("ORACLE"), "figures.R")))
    if (deparse(e[[1]])[1] %in% c("<-", "suppressPackageStartupMessages") && !identical(e[[2]], quote(base))) eval(e)
suppressPackageStartupMessages(library(metafor))

# --- sessions ----------------------------------------------------------------------------------------------
early_state <- function(c) {
    e <- c$ends("last sighting")
    ifelse(e$cause == 1 & e$exit <= 180, 1, ifelse(e$cause != 0 | e$exit >= 180, 0, NA))
}

sessions_of <- function(c) {
    d <- c$d
    d$early <- early_state(c)
    d$early_due <- !d$no_survival & d$placed_on + 180 <= c$last & (is.na(c$since) | d$placed_on >= c$since)
    d$error <- ifelse(d$no_depth, NA, d$achieved_depth_mm - d$planned_depth_mm)
    d <- d[!is.na(d$operator), ]
    scale <- if (sum(d$density_found_scale == "LZ", na.rm = TRUE) > sum(d$density_found_scale == "D", na.rm = TRUE)) "LZ" else "D"
    key <- paste(d$operator, d$placed_on, d$patient_id, sep = "\r")
    s <- do.call(rbind, lapply(split(d, key), function(x) {
        known <- x[x$early_due & !is.na(x$early), ]
        state <- if (x$placed_on[1] + 180 > c$last) "open" else if (nrow(known)) "known" else if (any(x$early_due)) "unknown" else "out"
        facts <- if (state == "known") known else x
        found <- facts$density_found[facts$density_found_scale %in% scale]
        recorded <- function(v) v[!is.na(v)]
        smoke <- recorded(facts$smoking)
        graft <- recorded(facts$graft)
        data.frame(operator = x$operator[1], placed_on = x$placed_on[1], patient_id = x$patient_id[1], implants = nrow(x),
                   error = mean(x$error, na.rm = TRUE), errors = sum(!is.na(x$error)), state = state, known = nrow(known),
                   failures = sum(known$early), failed = as.numeric(any(known$early == 1)),
                   softest = if (length(found)) max(found) else NA, smoker = if (length(smoke)) as.numeric(any(smoke == "current")) else NA,
                   graft = if (length(graft)) max(graft) else NA)
    }))
    s <- s[order(s$operator, s$placed_on, s$patient_id), ]
    s$number <- ave(seq_len(nrow(s)), s$operator, FUN = seq_along)
    s$log2 <- log2(ifelse(s$known > 0, s$known, s$implants))
    attr(s, "scale") <- scale
    s
}

# --- penalised logistic regression, to the maximum of the penalised likelihood ------------------------------
firth <- function(y, x) {
    value <- function(b) { p <- plogis(as.vector(x %*% b))
        sum(ifelse(y == 1, log(p), log1p(-p))) + as.numeric(determinant(crossprod(x, p * (1 - p) * x))$modulus) / 2 }
    score <- function(b) { p <- plogis(as.vector(x %*% b)); w <- p * (1 - p)
        h <- w * rowSums((x %*% solve(crossprod(x, w * x))) * x)
        as.vector(crossprod(x, y - p + h * (0.5 - p))) }
    b <- optim(c(qlogis(mean(y)), rep(0, ncol(x) - 1)), value, score, method = "BFGS", control = list(fnscale = -1, maxit = 1000, reltol = 1e-14))$par
    for (i in 1:20) b <- b - solve(sapply(seq_along(b), function(j) { h <- replace(0 * b, j, 1e-5); (score(b + h) - score(b - h)) / 2e-5 }), score(b))
    b
}

# --- the expected failures of one operator ------------------------------------------------------------------
columns <- c("softest", "smoker", "graft", "log2")
names_of <- function(scale) c(intercept = "constant", softest = paste("softest density class", scale), smoker = "current smoker",
                              graft = "grafted", log2 = "log2 implants")

baseline <- function(s, operator, last) {
    rest <- s[s$operator != operator & s$state == "known", ]
    patients <- function(x) length(unique(x$patient_id))
    counts <- function(x) c("sessions of the baseline" = nrow(x), "failed sessions of the baseline" = sum(x$failed), "patients of the baseline" = patients(x))
    if (patients(rest) >= 10 && patients(rest[rest$failed == 1, ]) >= 5 && any(rest$failed == 0)) {
        used <- columns[sapply(columns, function(v) 5 * sum(!is.na(rest[[v]])) >= 4 * nrow(rest))]
        y <- rest[complete.cases(rest[used]), ]
        varies <- used[sapply(used, function(v) length(unique(y[[v]])) > 1)]
        x <- cbind(1, as.matrix(y[varies]))
        b <- firth(y$failed, x)
        eta <- as.vector(x %*% b)
        b[1] <- b[1] + uniroot(function(a) sum(plogis(eta + a)) - sum(y$failed), c(-30, 30), tol = 1e-14)$root
        return(list(reference = "the other operators", used = used, coefficient = setNames(b, c("intercept", varies)),
                    share = mean(y$failed), fitted_to = last, share_name = "share of the other operators", counts = counts(rest)))
    }
    own <- s[s$operator == operator & s$state == "known", ]
    own <- own[seq_len(min(nrow(own), 50)), ]
    if (nrow(own) == 50 && patients(own[own$failed == 1, ]) >= 5 && any(own$failed == 0))
        return(list(reference = "own first sessions", coefficient = NULL, share = mean(own$failed), fitted_to = own$placed_on[50] + 180,
                    share_name = "share of own first sessions", counts = counts(own)))
    NULL
}

ratio_of <- function(s) { k <- s[s$state == "known", ]
    if (sum(k$failures) > 0) mean(k$failed) / (sum(k$failures) / sum(k$known)) else sum(k$known) / nrow(k) }

chance <- function(b, level, x) {
    p <- rep(level, nrow(x))
    if (!is.null(b$coefficient)) {
        eta <- b$coefficient[["intercept"]] + as.vector(as.matrix(x[setdiff(names(b$coefficient), "intercept")]) %*%
                                                       b$coefficient[setdiff(names(b$coefficient), "intercept")])
        complete <- !is.na(eta)
        p[complete] <- plogis(eta + qlogis(level) - qlogis(b$share))[complete]
    }
    p
}

cusum <- function(event, p, ratio, limit, reset = TRUE) {
    score <- ifelse(event == 1, log(ratio / (1 - p + ratio * p)), log(1 / (1 - p + ratio * p)))
    s <- 0; path <- numeric(0)
    for (w in score) { s <- max(0, s + w); path <- c(path, s); if (reset && s > limit) s <- 0 }
    path
}

# Run lengths of many streams side by side: patients drawn with replacement, each with all sessions; a patient's sessions correlated
# 0.3 on the normal scale.
run_lengths <- function(p, patient, ratio, limit, truth = 1, streams = 12000) {
    q <- truth * p / (1 - p + truth * p)
    threshold <- qnorm(q)
    rows <- split(seq_along(p), patient)
    hit <- log(ratio / (1 - p + ratio * p)); miss <- log(1 / (1 - p + ratio * p))
    s <- numeric(streams); n <- rep(NA_real_, streams); who <- place <- integer(streams); z <- numeric(streams)
    sizes <- lengths(rows)
    who <- sample(length(rows), streams, TRUE); place[] <- 1L; z <- rnorm(streams)
    first <- cumsum(c(0, sizes))[seq_along(sizes)]
    flat <- unlist(rows, use.names = FALSE)
    live <- seq_len(streams)
    for (step in 1:100000) {
        i <- flat[first[who[live]] + place[live]]
        event <- sqrt(0.3) * z[live] + sqrt(0.7) * rnorm(length(live)) < threshold[i]
        s[live] <- pmax(0, s[live] + ifelse(event, hit[i], miss[i]))
        done <- s[live] > limit
        n[live[done]] <- step
        place[live] <- place[live] + 1L
        next_one <- live[place[live] > sizes[who[live]]]
        who[next_one] <- sample(length(rows), length(next_one), TRUE); place[next_one] <- 1L; z[next_one] <- rnorm(length(next_one))
        live <- live[!done]
        if (!length(live)) break
    }
    mean(n)
}

# Our value of a row.
cell <- function(ours, measure, field, grouping, level, at = NA)
    { name <- cell_name(measure, field, grouping, level, "", "", "implant")
      k <- key_of(expect(name[[1]], name[[2]], at, 0)); ours$value[match(k, key_of(ours))] }

quarter_of <- function(day) { t <- as.POSIXlt(as.Date(day, origin = "1970-01-01")); sprintf("%04dQ%d", t$year + 1900, t$mon %/% 3 + 1) }

expect_signals <- function(c, s, operator, chart, number, path, lower, upper, each, run_length, pace) {
    outside <- (!is.na(lower) & path < lower) | path > upper
    starts <- which(outside & (each | !c(FALSE, head(outside, -1))))
    mine <- s[s$operator == operator, ]
    key <- paste(operator, chart, sep = "|")
    want("signals", "operator|chart", key, value = length(starts), due = length(path))
    want("signals_year", "operator|chart", key, value = sum(mine$placed_on[number[starts]] >= c$year))
    for (i in starts)
        want("signal", "operator|chart|quarter", paste(key, quarter_of(mine$placed_on[number[i]]), sep = "|"), at = number[i], value = path[i],
             lower = lower[i], upper = upper[i])
    if (!is.na(run_length)) {
        want("run_length", "operator|chart", key, value = run_length)
        if (pace > 0) want("run_length_years", "operator|chart", key, value = run_length / pace)
    }
}

# An EWMA chart's run length by a chain of states (D. Brook, D. A. Evans 1972), limits widening as they do.
ewma_run_length <- function(lambda, width, cells) {
    limit <- function(i) width * sqrt(lambda / (2 - lambda) * (1 - (1 - lambda)^(2 * i)))
    mids <- function(l) (seq_len(cells) - 0.5) / cells * 2 * l - l
    mass <- pnorm((mids(limit(1)) + limit(1) / cells) / lambda) - pnorm((mids(limit(1)) - limit(1) / cells) / lambda)
    total <- 1 + sum(mass)
    before <- limit(1); step <- NULL
    for (i in 2:20000) {
        now <- limit(i)
        if (is.null(step) || abs(now - before) > 1e-15)
            step <- outer(mids(before), mids(now), function(x, y) pnorm((y + now / cells - (1 - lambda) * x) / lambda) -
                                                                  pnorm((y - now / cells - (1 - lambda) * x) / lambda))
        mass <- as.vector(mass %*% step)
        total <- total + sum(mass)
        before <- now
        if (sum(mass) < 1e-12) break
    }
    total
}

# --- one operator ------------------------------------------------------------------------------------------
expect_sessions <- function(c, s, operator) {
    x <- s[s$operator == operator, ]
    count <- function(measure, keep) want(measure, "operator", operator, value = sum(keep), n = sum(x$implants[keep]),
                                          patients = length(unique(x$patient_id[keep])))
    count("sessions", rep(TRUE, nrow(x)))
    count("sessions_open", x$state == "open")
    count("sessions_unknown", x$state == "unknown")
    pace <- sum(x$placed_on >= c$year)
    want("sessions_a_year", "operator", operator, value = pace)
    pace
}

expect_depth_chart <- function(c, s, operator, pace, ewma_length) {
    x <- s[s$operator == operator & s$errors > 0, ]
    base <- sum(x$placed_on < c$year)
    if (base < 20) base <- nrow(x)
    enough <- length(unique(x$patient_id)) >= 10 && nrow(x) >= 20
    if (!enough) {
        want("depth_centre", "operator", operator, value = NA)
        return(0)
    }
    v <- x$error[seq_len(base)]
    mr <- mean(abs(diff(v))); sigma <- mr / 1.128; centre <- mean(v)
    want("depth_centre", "operator", operator, value = centre, lower = centre - 3 * sigma, upper = centre + 3 * sigma, due = nrow(x), n = sum(x$errors))
    want("depth_moving_range", "operator", operator, value = mr)
    want("depth_baseline_sessions", "operator", operator, value = base)
    expect_signals(c, s, operator, "single sessions", x$number, x$error, rep(centre - 3 * sigma, nrow(x)), rep(centre + 3 * sigma, nrow(x)),
                   TRUE, 1 / (2 * pnorm(-3)), pace)
    z <- Reduce(function(z, v) 0.2 * v + 0.8 * z, x$error, centre, accumulate = TRUE)[-1]
    half <- 2.86 * sigma * sqrt(0.2 / 1.8 * (1 - 0.8^(2 * seq_along(z))))
    for (i in seq_along(z))
        want("depth_moving_average", "operator", operator, at = x$number[i], value = z[i], lower = centre - half[i], upper = centre + half[i])
    expect_signals(c, s, operator, "moving average", x$number, z, centre - half, centre + half, FALSE, NA, pace)
    pace * (2 * pnorm(-3) + 1 / ewma_length)
}

# Returns the false signals a year of both charts of failures. frozen: the baseline to expect instead of a fresh one.
expect_failure_chart <- function(c, s, operator, pace, ours, target, frozen, promise, set) {
    b <- if (is.null(frozen)) baseline(s, operator, c$last) else frozen
    level <- if (!is.na(target)) target * ratio_of(s) else if (is.null(b)) NA else b$share
    reference <- if (is.na(level)) "no baseline" else if (is.null(b)) "the target" else b$reference
    x <- s[s$operator == operator & s$state == "known", ]
    if (reference == "own first sessions") x <- x[x$placed_on + 180 > b$fitted_to, ]
    key <- paste(operator, reference, sep = "|")
    few_here <- is.na(level) || length(unique(x$patient_id)) < 10 || nrow(x) < 20
    p <- if (is.na(level)) NA else chance(b, level, x)
    want("failures_expected", "operator|reference", key, value = if (few_here) NA else sum(p), due = nrow(x), events = sum(x$failed))
    if (is.na(level)) return(0)
    day <- format(as.Date(if (is.null(b)) c$last else b$fitted_to, origin = "1970-01-01"))
    term <- function(name, value, measure = "baseline_term") want(measure, "operator|term|fitted_to", paste(operator, name, day, sep = "|"), value = value)
    if (!is.null(b)) {
        term(b$share_name, b$share)
        for (v in names(b$counts)) term(v, b$counts[[v]], "baseline_count")
        labels <- names_of(attr(s, "scale"))
        for (v in names(b$coefficient)) term(labels[[v]], b$coefficient[[v]])
        if (!is.null(b$coefficient))
            want("sessions_unadjusted", "operator", operator, value = sum(is.na(as.matrix(x[setdiff(names(b$coefficient), "intercept")]) %*%
                 b$coefficient[setdiff(names(b$coefficient), "intercept")])))
    }
    term("level of the chart", level)
    if (few_here) return(0)
    false <- 0
    for (direction in c("more", "fewer")) {
        ratio <- if (direction == "more") 2 else 0.5
        name <- paste0("limit for ", direction, " failures")
        limit <- cell(ours, "baseline_term", "value", "operator|term|fitted_to", paste(operator, name, day, sep = "|"))
        stated <- cell(ours, "run_length", "value", "operator|chart", paste0(operator, "|", direction, " failures"))
        path <- cusum(x$failed, p, ratio, limit)
        for (i in seq_along(path))
            want(paste0("failure_score_", direction), "operator", operator, at = x$number[i], value = path[i], upper = limit)
        expect_signals(c, s, operator, paste(direction, "failures"), x$number, path, NA * path, rep(limit, length(path)), TRUE, NA, pace)
        if (promise) {
            simulated <- run_lengths(p, x$patient_id, ratio, limit)
            must("run_length", set, abs(simulated / stated - 1) < 0.05, sprintf("%s, %s failures: stated %.1f, simulated %.1f", operator, direction, stated, simulated))
            detection <- cell(ours, "detection", "value", "operator|chart", paste0(operator, "|", direction, " failures"))
            seen <- run_lengths(p, x$patient_id, ratio, limit, ratio)
            recomputed(data.frame(quantity = "detection value", value = seen))
            must("run_length", set, abs(seen / detection - 1) < 0.05, sprintf("%s, %s failures detected: stated %.1f, simulated %.1f", operator, direction, detection, seen))
        }
        false <- false + pace / stated
    }
    false
}

# --- quarters ----------------------------------------------------------------------------------------------
expect_spans <- function(c, operator) {
    d <- c$d
    d$error <- ifelse(d$no_depth, NA, d$achieved_depth_mm - d$planned_depth_mm)
    torque <- c$cuts("torque")
    cut <- torque$upper_cut[1]
    capped <- !is.na(d$final_torque_capped) & d$final_torque_capped == 1
    d$torque <- ifelse(d$no_stability, NA, d$final_torque_ncm)
    d$low <- ifelse(is.na(d$torque) | (capped & d$torque < cut), NA, as.numeric(!capped & d$torque < cut))
    d$within <- as.numeric(abs(hundredths(d$error)) <= 50)
    d$soft <- as.numeric(d$density_found >= 3)
    d$smoker <- as.numeric(d$smoking == "current")
    d$back <- as.numeric(grepl("back", d$region)); d$back[is.na(d$region)] <- NA
    x <- resolve(c, "placement", 3)
    d$change <- (x$c_m + x$c_d) / 2
    d$film_due <- !is.na(x$start) & !d$no_crest & x$closes <= c$last
    first <- as.Date(cut(as.Date(c$last, origin = "1970-01-01"), "quarter"))
    starts <- rev(seq(first, by = "-3 months", length.out = 12))
    for (q in seq_along(starts)) for (kind in c("quarter", "year_to")) {
        end <- as.integer(seq(starts[q], by = "3 months", length.out = 2)[2]) - 1
        begin <- as.integer(if (kind == "quarter") starts[q] else seq(starts[q], by = "-9 months", length.out = 2)[2])
        here <- d$operator %in% operator & d$placed_on >= begin & d$placed_on <= end
        if (!any(here)) next
        grouping <- paste0("operator|", kind)
        name <- paste(operator, quarter_of(as.integer(starts[q])), sep = "|")
        want("span_implants", grouping, name, value = sum(here), patients = length(unique(d$patient_id[here])))
        shares <- list(span_soft_bone = d$soft, span_current_smoker = d$smoker, span_grafted = d$graft, span_at_back = d$back,
                       span_within_half = d$within, span_low_torque = d$low)
        for (m in names(shares)) {
            y <- shares[[m]][here]; g <- d$patient_id[here][!is.na(y)]; y <- y[!is.na(y)]
            e <- share(y, g)
            do.call(want, c(list(m, grouping, name, n = length(y), due = sum(here), events = e$events), blank(e, few(length(unique(g)), length(y), TRUE))))
        }
        y <- here & !is.na(d$torque)
        g <- d$patient_id[y]
        do.call(want, c(list("span_torque_median", grouping, name, n = sum(y)),
            blank(if (few(length(unique(g)))) list() else capped_quantile(d$torque[y], capped[y], g, 0.5), few(length(unique(g))))))
        f <- here & d$film_due
        if (!any(f)) next
        e <- share(as.numeric(!is.na(d$change[f])), d$patient_id[f])
        do.call(want, c(list("span_film_read", grouping, name, 12, "placement", n = sum(f), events = e$events),
                        blank(e, few(length(unique(d$patient_id[f])), sum(f), TRUE))))
        r <- f & !is.na(d$change)
        g <- d$patient_id[r]
        do.call(want, c(list("span_crest_change", grouping, name, 12, "placement", "mean", n = sum(r), due = sum(f)),
                        blank(if (few(length(unique(g)))) list() else cr2_mean(d$change[r], g), few(length(unique(g))))))
    }
}

# --- learning curve ----------------------------------------------------------------------------------------
expect_learning <- function(c, operator) {
    d <- c$d[c$d$operator %in% operator, ]
    d <- d[order(d$placed_on, d$patient_id, d$id), ]
    d$number <- seq_len(nrow(d))
    d$distance <- abs(ifelse(d$no_depth, NA, d$achieved_depth_mm - d$planned_depth_mm))
    y <- d[!is.na(d$distance), ]
    if (nrow(y) < 30 || length(unique(y$patient_id)) < 10) return()
    knots <- unname(quantile(y$number, if (nrow(y) < 100) c(0.1, 0.5, 0.9) else c(0.05, 0.35, 0.65, 0.95)))
    low <- knots[1]; unit <- knots[length(knots)] - low
    u <- (y$number - low) / unit
    terms <- spline_terms(u, (knots - low) / unit)
    for (at in seq(1, nrow(d), by = ceiling(nrow(d) / 25))) {
        v <- (at - low) / unit
        B <- cbind(u - v, sweep(terms, 2, spline_terms(v, (knots - low) / unit)))
        fit <- lm(y$distance ~ B)
        test <- coef_test(fit, vcovCR(fit, y$patient_id, type = "CR2"), test = "Satterthwaite", coefs = 1)
        half <- qt(0.975, if (is.null(test$df_Satt)) test$df else test$df_Satt) * test$SE
        want("learning_curve", "operator", operator, at = at, value = unname(coef(fit)[1]), lower = unname(coef(fit)[1]) - half,
             upper = unname(coef(fit)[1]) + half, n = nrow(y))
    }
}

# --- beside the others -------------------------------------------------------------------------------------
expect_differences <- function(c, operators) {
    d <- c$d
    d$error <- ifelse(d$no_depth, NA, d$achieved_depth_mm - d$planned_depth_mm)
    capped <- !is.na(d$final_torque_capped) & d$final_torque_capped == 1
    cut <- c$cuts("torque")$upper_cut[1]
    torque <- ifelse(d$no_stability, NA, d$final_torque_ncm)
    early <- early_state(c)
    early[!(!d$no_survival & d$placed_on + 180 <= c$last & (is.na(c$since) | d$placed_on >= c$since))] <- NA
    x <- resolve(c, "placement", 3)
    change <- (x$c_m + x$c_d) / 2
    change[is.na(x$start) | d$no_crest | !(x$closes <= c$last)] <- NA
    outcomes <- list(depth_error = d$error, depth_distance = abs(d$error), within_half = as.numeric(abs(hundredths(d$error)) <= 50),
                     low_torque = ifelse(is.na(torque) | (capped & torque < cut), NA, as.numeric(!capped & torque < cut)),
                     early_failure = early, crest_change = change)
    for (o in names(outcomes)) {
        is_share <- o %in% c("within_half", "low_torque", "early_failure")
        means <- NULL
        for (op in operators) {
            keep <- !is.na(outcomes[[o]]) & !is.na(d$operator)
            y <- data.frame(value = outcomes[[o]], second = as.numeric(d$operator == op), patient = d$patient_id)[keep, ]
            own <- y[y$second == 1, ]; others <- y[y$second == 0, ]
            if (nrow(own) == 0) next
            is_few <- length(unique(own$patient)) < 10 || length(unique(others$patient)) < 10 || (is_share && nrow(own) < 20)
            measure <- paste0("difference_", o)
            if (is_few) {
                want(measure, "operator", op, value = NA, n = nrow(own))
            } else if (!is_share || (length(unique(own$value)) > 1 && length(unique(others$value)) > 1)) {
                do.call(want, c(list(measure, "operator", op, n = nrow(own)), cr2_slope(value ~ second, y, y$patient, "second")))
            } else {                                                  # Newcombe's square-and-add
                a <- share(own$value, own$patient); b <- share(others$value, others$patient)
                value <- a$value - b$value
                want(measure, "operator", op, value = value, lower = value - sqrt((a$value - a$lower)^2 + (b$upper - b$value)^2),
                     upper = value + sqrt((a$upper - a$value)^2 + (b$value - b$lower)^2))
            }
            if (length(unique(own$patient)) >= 10 && length(unique(own$value)) > 1) {
                fit <- lm(value ~ 1, own)
                means <- rbind(means, data.frame(op = op, n = nrow(own), y = mean(own$value),
                                                 se = coef_test(fit, vcovCR(fit, own$patient, type = "CR2"), test = "naive-t")$SE))
            }
        }
        if (is.null(means) || nrow(means) < 5) next
        fit <- rma(y, sei = se, data = means, method = "DL")
        want(paste0("between_", o), value = sqrt(fit$tau2))
        drawn <- blup(fit)
        for (i in seq_len(nrow(means)))
            if (is_share && means$n[i] < 20) want(paste0("shrunken_", o), "operator", means$op[i], value = NA)
            else want(paste0("shrunken_", o), "operator", means$op[i], value = drawn$pred[i], lower = drawn$pred[i] - qnorm(0.975) * drawn$se[i],
                      upper = drawn$pred[i] + qnorm(0.975) * drawn$se[i])
    }
}

funnel_limit <- function(p, n, share) { r <- qbinom(p, n, share); (r - (pbinom(r, n, share) - p) / dbinom(r, n, share)) / n }

expect_funnel <- function(s, operators) {
    k <- s[s$state == "known", ]
    who <- unique(k[c("operator", "patient_id")])
    who$failed <- mapply(function(o, p) max(k$failed[k$operator == o & k$patient_id == p]), who$operator, who$patient_id)
    failed <- sum(who$failed)
    few_here <- nrow(who) < 10 || failed < 5 || failed == nrow(who)
    centre <- failed / nrow(who)
    want("funnel_centre", value = if (few_here) NA else centre, patients = nrow(who), events = failed, unit = "patient")
    if (few_here) return()
    limits <- function(measure, grouping, level, at, n, tail, blank = FALSE)
        want(measure, grouping, level, at = at, value = if (blank) NA else centre, unit = "patient",
             lower = if (blank) NA else max(0, funnel_limit(tail, n, centre)), upper = if (blank) NA else min(1, funnel_limit(1 - tail, n, centre)))
    most <- 0
    for (op in operators) {
        x <- who[who$operator == op, ]
        most <- max(most, nrow(x))
        if (nrow(x) == 0) next
        is_few <- nrow(x) < 10
        ci <- binom.test(sum(x$failed), nrow(x))$conf.int
        do.call(want, c(list("funnel_share", "operator", op, unit = "patient", patients = nrow(x), events = sum(x$failed)),
                        blank(list(value = mean(x$failed), lower = ci[1], upper = ci[2]), is_few)))
        limits("funnel_limits_95", "operator", op, NA, nrow(x), 0.025, is_few)
        limits("funnel_limits_998", "operator", op, NA, nrow(x), 0.001, is_few)
    }
    last <- most + most %/% 8 + 1
    for (n in seq(5, last, by = (last - 5) %/% 30 + 1)) {
        limits("funnel_curve_95", "", "", n, n, 0.025)
        limits("funnel_curve_998", "", "", n, n, 0.001)
    }
}

# --- stores ------------------------------------------------------------------------------------------------
base <- file.path(oracle$folder, "base.db")
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("new", "--store", base)
run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
set_target <- "insert into yardstick_target (yardstick, value, direction, origin, valid_from, set_by) values ('early-failure', 0.04, 'at_most', 'own', 18000, 'x')"
six_operators <- "update implant set operator = char(65 + (patient_id * 7919) % 6)"
sets <- list(list(to = "2026-06-30", from = "2026-04-01", sql = character(0), promise = TRUE),
             list(to = "2026-09-30", from = "2000-01-01", sql = c(change(NULL, 2), set_target)),
             list(to = "2025-12-31", from = "2025-01-01", sql = c(change(NULL, 3), six_operators)),
             list(to = "2026-06-30", from = "2026-04-01", sql = "update implant set operator = 'only'", promise = TRUE),
             list(to = "2026-06-30", from = "2026-01-01", sql = c("update implant set graft = null where id % 3 = 0", set_target,
                  "update implant set operator = null where id % 11 = 0")),
             list(to = "2022-03-31", from = "2022-01-01", sql = character(0)),
             list(to = "2026-06-30", from = "2026-04-01", sql = character(0), frozen = "2025-12-31"))
ewma_length <- (4 * ewma_run_length(0.2, 2.86, 401) - ewma_run_length(0.2, 2.86, 201)) / 3      # error in the square of the grid
for (i in seq_along(sets)) {
    set <- structure(list(seed = i, kind = paste(sets[[i]]$from, sets[[i]]$to)), class = "data_set")
    start(set)
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    if (length(sets[[i]]$sql)) must("operators", set, change_store(store, sets[[i]]$sql), "change of the store")
    rows$all <- rows$near <- list()
    frozen_sessions <- NULL
    if (!is.null(sets[[i]]$frozen)) {                                # an audit of an earlier quarter freezes the baselines
        run("audit", "--store", store, "--period", "2025Q4", "--out", file.path(oracle$folder, "audit"))
        frozen_sessions <- sessions_of(cohort(read_store(store), day("2025-10-01"), day(sets[[i]]$frozen)))
    }
    c1 <- cohort(read_store(store), day(sets[[i]]$from), day(sets[[i]]$to))
    s <- sessions_of(c1)
    target <- if (set_target %in% sets[[i]]$sql && day(sets[[i]]$from) >= 18000) 0.04 else NA
    ours <- observed(store, sets[[i]]$from, sets[[i]]$to)
    operators <- sort(unique(na.omit(read_store(store)$implant$operator)))
    false <- 0
    for (op in intersect(operators, s$operator)) {
        pace <- expect_sessions(c1, s, op)
        frozen <- if (is.null(frozen_sessions)) NULL else baseline(frozen_sessions, op, day(sets[[i]]$frozen))
        mine <- expect_depth_chart(c1, s, op, pace, ewma_length) +
            expect_failure_chart(c1, s, op, pace, ours, target, frozen, isTRUE(sets[[i]]$promise), set)
        if (mine > 0) want("false_signals_a_year", "operator", op, near_value = mine)
        false <- false + mine
        expect_spans(c1, op)
        expect_learning(c1, op)
    }
    if (false > 0) want("false_signals_a_year", near_value = false)
    if (length(operators) > 1) {
        expect_differences(c1, operators)
        expect_funnel(s, operators)
    }
    compare("operators", set, ours, do.call(rbind, rows$all))
    # a chart is watched when its limits are given: one length of its runs each
    watched <- ours$value[ours$quantity == "charts_watched value"]
    must("operators", set, identical(watched, as.numeric(sum(!is.na(ours$value[ours$quantity == "run_length value"])))), "charts watched")
    if (length(watched)) recomputed(data.frame(quantity = c("charts_watched value", "run_length value"), value = watched))
    near <- do.call(rbind, rows$near)                                # rest on the chain's grid
    recomputed(near)
    error <- relative_error(near$quantity, ours$value[match(key_of(near), key_of(ours))], near$value, near$scale)
    must("operators", set, all(error < 1e-5), paste("false signals", key_of(near)[which.max(error)], max(error)))
    show_differences(i, ours, do.call(rbind, rows$all))
}
must("run_length", set, abs(cell(ours, "run_length", "value", "operator|chart", "A|moving average") / ewma_length - 1) < 1e-5, "moving average: the chain")
finish()
