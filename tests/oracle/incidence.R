# Cumulative incidence: survfit with several states for the curves and the rows' influence (summed within clusters here: that
# package, version 3.5, leaves cluster= out of account for several states), the delta-method error written out.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

# Gaynor et al. (1993), double sum as published.
delta_error <- function(time, cause, entry, k) {
    u <- sort(unique(time))
    n <- vapply(u, function(x) sum(time >= x & (entry < x | entry <= 0)), 1)
    dk <- vapply(u, function(x) sum(time == x & cause == k), 1)
    dd <- vapply(u, function(x) sum(time == x & cause > 0), 1)
    S <- cumprod(1 - dd / n); before <- c(1, S[-length(S)])
    F <- cumsum(before * dk / n)
    vapply(seq_along(u), function(m) {
        j <- seq_len(m); left <- n[j] > dd[j]
        v <- sum(((F[m] - F[j])^2 * dd[j] / (n[j] * (n[j] - dd[j])))[left]) + sum(before[j]^2 * dk[j] * (n[j] - dk[j]) / n[j]^3) -
            2 * sum(((F[m] - F[j]) * before[j] * dk[j] / n[j]^2)[left])
        sqrt(max(v, 0))
    }, 1)
}

for (set in data_sets(300, survival_kinds)) {
    start(set)
    delayed <- set$seed %% 2 == 0
    clustered <- set$seed %% 3 != 0
    d <- follow_up_data(set, delayed)
    causes <- sample(1:3, 1)
    d$cause <- d$event * sample(causes, nrow(d), TRUE)
    ours <- reckon("incidence", d, "--time", "time", "--cause", "cause", "--by", "g", if (delayed) c("--entry", "entry"),
                   if (clustered) c("--cluster", "p"))
    must("incidence", set, attr(ours, "status") == 0, "runs")
    if (nrow(d) == 0 || all(d$cause == 0)) next
    for (g in unique(d$g)) {
        x <- d[d$g == g, ]
        x$id <- seq_len(nrow(x))
        states <- factor(x$cause, 0:3)
        y <- if (delayed) Surv(x$entry, x$time, states) else Surv(x$time, states)
        f <- survfit(y ~ 1, id = x$id, influence = TRUE, timefix = FALSE)
        rows <- match(sort(unique(x$time)), f$time)
        shift <- dim(f$influence.pstate)[2] - length(f$time)
        alone <- clustered && length(unique(x$p)) < 2
        expected <- list(expect("event_free", g, f$time[rows], f$pstate[rows, 1], 1e-8))
        for (k in sort(unique(d$cause[d$cause > 0]))) {
            F <- f$pstate[rows, k + 1]
            F[F > 1 - 1e-13] <- 1
            se <- if (clustered) clustered_error(matrix(f$influence.pstate[, rows + shift, k + 1], nrow(x)), x$p) else
                delta_error(x$time, x$cause, x$entry, k)
            if (alone) se[] <- NA
            limits <- band(F, se, "double-log")
            name <- paste0(g, "|", k)
            expected <- c(expected, list(
                expect("incidence", name, f$time[rows], F, 1e-8), expect("standard_error", name, f$time[rows], se, ifelse(is.na(se) | se > 1e-6, 1e-5, 1)),
                expect("lower", name, f$time[rows], limits[, 1], 1e-5), expect("upper", name, f$time[rows], limits[, 2], 1e-5)))
        }
        compare("incidence", set, ours, expected)
    }
}
finish()
