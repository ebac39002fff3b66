# Survival curves, medians, restricted means: survfit of the survival package, clustered errors from its influence of rows.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

for (set in data_sets(360, survival_kinds)) {
    start(set)
    delayed <- set$seed %% 2 == 0
    clustered <- set$seed %% 3 != 0
    form <- c("double-log", "log", "untransformed")[set$seed %% 3 + 1]
    d <- follow_up_data(set, delayed)
    until <- if (nrow(d) > 0) max(d$time) * 0.8 else 1
    at <- if (nrow(d) > 0) sort(signif(runif(3, 0, max(d$time) * 1.1), 6)) else c(1, 2, 3)
    options <- c("--time", "time", "--event", "event", "--by", "g", "--interval", form, "--until", sprintf("%.17g", until),
                 "--q", "0.2,0.75", if (delayed) c("--entry", "entry"), if (clustered) c("--cluster", "p"))
    ours <- reckon("survival", d, options)
    chosen <- reckon("survival", d, options, "--at", paste(sprintf("%.17g", at), collapse = ","))
    must("survival", set, attr(ours, "status") == 0 && attr(chosen, "status") == 0, "runs")
    if (nrow(d) == 0) next
    for (g in unique(d$g)) {
        x <- d[d$g == g, ]
        f <- r_curve(x, delayed)
        undefined <- clustered && length(unique(x$p)) < 2
        influence <- f$influence.surv
        se <- if (clustered) clustered_error(influence, x$p) else r_error(x, delayed)
        se[f$surv == 0 | undefined] <- NA
        limits <- band(f$surv, se, form)
        last <- max(x$time)
        expected <- list(
            expect("events", g, f$time, f$n.event), expect("at_risk", g, f$time, f$n.risk),
            expect("survival", g, f$time, f$surv), expect("standard_error", g, f$time, se, 1e-5),
            expect("lower", g, f$time, limits[, 1], 1e-5), expect("upper", g, f$time, limits[, 2], 1e-5),
            expect(c("median", "median_lower", "median_upper"), g,
                   value = c(time_at(f$time, f$surv, 0.5), time_at(f$time, limits[, 1], 0.5), time_at(f$time, limits[, 2], 0.5))),
            expect("quantile", g, c(0.2, 0.75), c(time_at(f$time, f$surv, 0.8), time_at(f$time, f$surv, 0.25))))
        # restricted mean: R's, or from the influence integrated over time
        if (until > last && tail(f$surv, 1) > 0) {
            expected <- c(expected, list(expect("restricted_mean", g, value = NA), expect("restricted_mean_error", g, value = NA)))
        } else {
            keep <- f$time <= until
            widths <- diff(c(0, f$time[keep], until))
            mean <- sum(widths * c(1, f$surv[keep]))
            area <- rev(cumsum(rev(widths * c(1, f$surv[keep]))))[-1]
            hazard <- ifelse(f$n.risk > f$n.event, f$n.event / (f$n.risk * (f$n.risk - f$n.event)), 0)[keep]
            error <- sqrt(sum(area^2 * hazard))
            if (clustered) error <- clustered_error(cbind(0, influence[, keep, drop = FALSE]) %*% widths, x$p)
            expected <- c(expected, list(expect("restricted_mean", g, value = mean),
                                         expect("restricted_mean_error", g, value = if (undefined) NA else error, scale = mean * 1e-5)))
        }
        compare("survival", set, ours, expected)
        before <- vapply(at, function(t) sum(f$time <= t), 1)
        known <- at <= last | tail(f$surv, 1) == 0
        value <- ifelse(known, c(1, f$surv)[before + 1], NA)
        entered <- function(t) if (delayed) x$entry < t | x$entry <= 0 else TRUE
        compare("survival", set, chosen, list(
            expect("survival", g, at, value),
            expect("at_risk", g, at, vapply(at, function(t) sum(x$time >= t & entered(t)), 1)),
            expect("events_to_date", g, at, vapply(at, function(t) sum(x$event[x$time <= t]), 1)),
            expect("standard_error", g, at, ifelse(known, if (undefined) NA else c(0, se)[before + 1], NA), 1e-5),
            expect("lower", g, at, ifelse(known, c(NA, limits[, 1])[before + 1], NA), 1e-5)), label = "--at")
        ones <- which(known & value == 1)
        at_risk <- vapply(at, function(t) { here <- x$time >= t & entered(t); if (clustered) length(unique(x$p[here])) else sum(here) }, 1)
        exact <- vapply(ones, function(i) if (at_risk[i] == 0) NA else binom.test(at_risk[i], at_risk[i])$conf.int[1], 1)
        if (length(ones) > 0) compare("survival", set, chosen, expect("exact_lower", g, at[ones], exact), label = "exact")
    }
}

# What must be refused, in words.
bad <- list(c(-1, 1, 0), c(1, 2, 0), c(2, 1, 2), c(2, 1, 3))
for (i in seq_along(bad)) {
    set <- structure(list(seed = i, kind = "refused"), class = "data_set")
    out <- reckon("survival", data.frame(time = bad[[i]][1], event = bad[[i]][2], entry = bad[[i]][3]), "--time", "time",
                  "--event", "event", "--entry", "entry")
    must("survival", set, attr(out, "status") == 3 && any(grepl(":2:", attr(out, "messages"))), "refused with its line")
}
finish()
