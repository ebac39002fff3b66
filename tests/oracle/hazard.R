# Proportional hazards: coxph and cox.zph of the survival package at full precision. R's columns are scaled to a largest value of
# 1 (its own iterations lose digits on 1e9 and 1e-9) and the coefficients taken back.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

exact <- suppressWarnings(coxph.control(eps = 1e-14, iter.max = 100, toler.chol = 1e-14, timefix = FALSE))

# The partial likelihood by its definition: far out R's own sums lose it under delayed entry.
direct_likelihood <- function(d, X, b, ties, strata) {
    eta <- drop(X %*% b)
    total <- 0
    for (s in unique(strata)) for (u in unique(d$time[d$event == 1 & strata == s])) {
        here <- strata == s & d$time >= u & (d$entry < u | d$entry <= 0)
        now <- here & d$time == u & d$event == 1
        m <- max(eta[here]); k <- sum(now)
        share <- if (ties == "efron") (seq_len(k) - 1) / k else numeric(k)
        total <- total + sum(eta[now] - m) - sum(log(sum(exp(eta[here] - m)) - share * sum(exp(eta[now] - m))))
    }
    total
}

# The efficient score test of x g(t), g = 1 - Kaplan-Meier, with clusters: the data split at every event time, so that coxph
# sees x g(t) as a column; its score residuals at the estimate, summed within clusters.
clustered_proportional <- function(d, X, b, ties, strata) {
    km <- survfit(Surv(d$entry, d$time, d$event) ~ 1, timefix = FALSE)
    cuts <- sort(unique(d$time[d$event == 1]))
    part <- survSplit(Surv(entry, time, event) ~ ., data.frame(entry = d$entry, time = d$time, event = d$event, row = seq_len(nrow(d))),
                      cut = cuts, start = "entry", end = "time")
    g <- 1 - c(1, km$surv)[findInterval(part$time, km$time, left.open = TRUE) + 1]
    g <- g - mean(g[part$event == 1])
    Z <- X[part$row, , drop = FALSE]
    f <- coxph(Surv(part$entry, part$time, part$event) ~ cbind(Z, Z * g) + strata(strata[part$row]), ties = ties,
               init = c(b, 0 * b), control = coxph.control(iter.max = 0, timefix = FALSE))
    I <- solve(f$var)
    r <- rowsum(residuals(f, "score"), d$p[part$row])
    old <- seq_along(b); new <- length(b) + old
    E <- r[, new, drop = FALSE] - r[, old, drop = FALSE] %*% solve(I[old, old], I[old, new, drop = FALSE])
    u <- colSums(r)[new]
    drop(u %*% solve(crossprod(E), u))
}

# The penalised log-likelihood, from R's likelihood and information.
penalised <- function(b, y, x, strata, ties) {
    f <- coxph(y ~ x + strata(strata), ties = ties, init = b, control = coxph.control(iter.max = 0, timefix = FALSE))
    f$loglik[1] + 0.5 * log(1 / f$var[1, 1])
}

compare_penalised <- function(set, ours, d, y, x, strata, ties) {
    if (set$kind %in% c("huge", "tiny")) return(invisible()) # ratios per unit of x: 1 or beyond all numbers
    l <- function(b) penalised(b, y, x, strata, ties)
    estimate <- ours$value[ours$quantity == "penalised_coefficient"]
    upper <- log(ours$value[ours$quantity == "penalised_upper"])
    lower <- log(ours$value[ours$quantity == "penalised_lower"])
    if (length(estimate) != 1 || anyNA(c(estimate, upper, lower))) return(must("hazard", set, FALSE, "penalised estimate given"))
    slope <- function(b) (l(b + 1e-4) - l(b - 1e-4)) / 2e-4
    top <- uniroot(slope, estimate + c(-1, 1) * 0.01 * (upper - lower), tol = 1e-13)$root
    fall <- function(b) 2 * (l(top) - l(b)) - qchisq(0.95, 1)
    root <- function(b) uniroot(fall, b + c(-1, 1) * 0.01 * abs(b - top), tol = 1e-13)$root
    compare("hazard", set, ours, list(
        expect("penalised_coefficient", "x1", value = top, scale = 1e-2),
        expect("penalised_lower", "x1", value = exp(root(lower))), expect("penalised_upper", "x1", value = exp(root(upper))),
        expect("penalised_p", "x1", value = pchisq(2 * (l(top) - l(0)), 1, lower.tail = FALSE))), label = "penalised")
}

for (set in data_sets(420, survival_kinds)) {
    start(set)
    delayed <- set$seed %% 2 == 0
    clustered <- set$seed %% 3 == 0
    stratified <- set$seed %% 5 == 0
    ties <- c("efron", "breslow")[set$seed %% 2 + 1]
    d <- follow_up_data(set, delayed)
    n <- nrow(d)
    p <- sample(1:3, 1)
    kind <- if (set$kind %in% c("ties", "huge", "tiny")) set$kind else "plain"
    for (j in seq_len(p)) d[[paste0("x", j)]] <- random_values(n, if (kind == "huge") "offset" else kind)
    d$c <- if (n > 0) random_groups(n, 3, fill = FALSE) else character(0)
    with_category <- set$seed %% 7 < 3
    ours <- reckon("hazard", d, "--time", "time", "--event", "event", "--numbers", paste0("x", seq_len(p), collapse = ","), "--ties",
                   ties, if (delayed) c("--entry", "entry"), if (clustered) c("--cluster", "p"), if (stratified) c("--strata", "s"),
                   if (with_category) c("--categories", "c"), if (p == 1 && !with_category && !clustered) "--penalised")
    must("hazard", set, attr(ours, "status") == 0, "runs")
    must("hazard", set, !any(is.infinite(ours$value)), "no infinity")
    if (n == 0 || sum(d$event) == 0) {
        must("hazard", set, all(is.na(ours$value[ours$quantity == "coefficient"])), "no event, no estimate")
        next
    }
    X <- as.matrix(d[paste0("x", seq_len(p))])
    size <- apply(abs(X), 2, max)
    middle <- colMeans(X)
    X <- sweep(sweep(X, 2, middle), 2, size, "/")
    terms <- paste0("x", seq_len(p))
    set_of <- terms
    if (with_category) for (level in sort(unique(d$c))[-1]) {
        X <- cbind(X, 1 * (d$c == level)); size <- c(size, 1); terms <- c(terms, paste0("c=", level)); set_of <- c(set_of, "c")
    }
    strata <- if (stratified) d$s else rep("", n)
    y <- if (delayed) Surv(d$entry, d$time, d$event) else Surv(d$time, d$event)
    warned <- FALSE
    quietly <- function(code) tryCatch(withCallingHandlers(code, warning = function(w) { warned <<- TRUE; invokeRestart("muffleWarning") }),
                                       error = function(e) NULL)
    f <- quietly(if (clustered) coxph(y ~ X + strata(strata), ties = ties, cluster = d$p, control = exact, x = TRUE) else
        coxph(y ~ X + strata(strata), ties = ties, control = exact, x = TRUE))
    b <- ours$value[match(paste("coefficient", terms), paste(ours$quantity, ours$group))]
    if (any(grepl("monotone", attr(ours, "messages")))) {
        # R gives a large number and mostly a warning; the limit of the likelihood is the same
        must("hazard", set, is.null(f) || warned || max(abs(f$coefficients), na.rm = TRUE) > 10 || anyNA(f$coefficients), "R has no estimate either")
        # R stops on the way or finds the information singular: our limit may lie above where it stopped, never below
        limit_value <- ours$value[ours$quantity == "log_likelihood"]
        there <- if (is.null(f) || anyNA(f$coefficients)) -Inf else direct_likelihood(d, X, f$coefficients, ties, strata)
        must("hazard", set, limit_value >= there - 1e-9, sprintf("limit %.12g not below the likelihood where R stops, %.12g", limit_value, there))
        finite <- !is.na(b)
        if (!is.null(f) && !anyNA(f$coefficients) && abs(limit_value - there) < 1e-12 && any(finite))
            compare("hazard", set, ours, expect("coefficient", terms[finite], value = f$coefficients[finite] / size[finite],
                                                scale = 1 / size[finite]), label = "finite terms")
        if (p == 1 && !with_category && !clustered) compare_penalised(set, ours, d, y, d$x1, strata, ties)
        next
    }
    if (is.null(f)) next
    if (anyNA(f$coefficients) || anyNA(b)) {
        must("hazard", set, identical(is.na(b), unname(is.na(f$coefficients))) || all(f$coefficients %in% c(0, NA)),
             "redundant columns are the same")
        next
    }
    must("hazard", set, !warned, "R warns, we do not")
    model <- if (clustered) f$naive.var else f$var
    se <- sqrt(diag(model))
    used <- if (clustered) sqrt(diag(f$var)) else se
    alone <- clustered && length(unique(d$p)) < 2
    if (alone) used[] <- NA
    z <- f$coefficients / used
    expected <- list(
        expect("coefficient", terms, value = f$coefficients / size, scale = 1e-5 * se / size),
        expect("standard_error", terms, value = se / size), expect("p", terms, value = 2 * pnorm(-abs(z))),
        expect("statistic", terms, value = z, scale = 1e-3), expect("log_likelihood", value = f$loglik[2], scale = 1e-6),
        expect("log_likelihood_null", value = f$loglik[1], scale = 1e-6),
        expect("ratio", terms, value = ifelse(exp(f$coefficients / size) < Inf, exp(f$coefficients / size), NA)))
    if (clustered) expected <- c(expected, list(expect("robust_error", terms, value = used / size, scale = 1e-6 * se / size)))
    if (!clustered) expected <- c(expected, list(
        expect("likelihood_ratio", value = 2 * diff(f$loglik), scale = 1e-3), expect("score", value = f$score, scale = 1e-3),
        expect("wald", value = drop(f$coefficients %*% solve(model, f$coefficients)), scale = 1e-3)))
    compare("hazard", set, ours, expected)
    wald <- ours$value[ours$quantity == "wald"]
    if (clustered && !is.na(wald)) compare("hazard", set, ours, list(
        expect("wald", value = unname(f$wald.test), scale = 1e-3), expect("score", value = f$rscore, scale = 1e-3)), label = "robust")
    if (p == 1 && !with_category && !clustered) compare_penalised(set, ours, d, y, d$x1, strata, ties)
    given <- ours$value[ours$quantity == "proportional_statistic" & ours$group == ""]
    if (!clustered && !is.na(given)) {
        zph <- tryCatch(cox.zph(f, terms = FALSE), error = function(e) NULL)
        if (!is.null(zph)) {
            all <- zph$table[nrow(zph$table), 1]
            compare("hazard", set, ours, expect("proportional_statistic", value = all, scale = 1e-2), label = "zph")
            single <- !duplicated(set_of) & !duplicated(set_of, fromLast = TRUE)
            each <- if (length(terms) == 1) all else zph$table[seq_along(terms), 1]
            if (any(single)) compare("hazard", set, ours, expect("proportional_statistic", set_of[single], value = each[single], scale = 1e-2), label = "zph")
        }
    }
    if (clustered && !is.na(given) && n <= 40) {
        theirs <- tryCatch(clustered_proportional(d, X, f$coefficients, ties, strata), error = function(e) NULL)
        if (!is.null(theirs)) compare("hazard", set, ours, expect("proportional_statistic", value = theirs, scale = 1e-2), label = "robust zph")
    }
}
finish()
