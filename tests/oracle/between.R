# The difference of two curves: survfit of each group; with clusters from the rows' influence on both.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

for (set in data_sets(300, survival_kinds)) {
    start(set)
    delayed <- set$seed %% 2 == 0
    clustered <- set$seed %% 3 != 0
    d <- follow_up_data(set, delayed)
    if (length(unique(d$g)) < 2) {
        out <- reckon("between", d, "--time", "time", "--event", "event", "--by", "g", "--at", "1")
        must("between", set, attr(out, "status") == 3, "one group is refused")
        next
    }
    last <- tapply(d$time, d$g, max)
    at <- min(last) * runif(1, 0.2, 1.1)
    until <- min(last) * 0.9
    ours <- reckon("between", d, "--time", "time", "--event", "event", "--by", "g", "--at", sprintf("%.17g", at), "--until",
                   sprintf("%.17g", until), if (delayed) c("--entry", "entry"), if (clustered) c("--cluster", "p"))
    parts <- lapply(sort(unique(d$g)), function(g) {
        x <- d[d$g == g, ]
        f <- r_curve(x, delayed)
        k <- sum(f$time <= at)
        keep <- f$time <= until
        widths <- diff(c(0, f$time[keep], until))
        S <- c(1, f$surv)[k + 1]
        known <- at <= max(x$time) || tail(f$surv, 1) == 0
        area <- rev(cumsum(rev(widths * c(1, f$surv[keep]))))[-1]
        hazard <- ifelse(f$n.risk > f$n.event, f$n.event / (f$n.risk * (f$n.risk - f$n.event)), 0)[keep]
        alone <- clustered && length(unique(x$p)) < 2
        list(S = if (known) S else NA, se = if (!known || S %in% 0:1 || alone) NA else r_error(x, delayed)[k], p = x$p,
             psi = if (k > 0) f$influence.surv[, k] else numeric(nrow(x)), mean = sum(widths * c(1, f$surv[keep])),
             mean_se = if (alone) NA else sqrt(sum(area^2 * hazard)),
             mean_psi = drop(cbind(0, f$influence.surv[, keep, drop = FALSE]) %*% widths))
    })
    error <- function(se, psi) {
        if (anyNA(c(parts[[1]][[se]], parts[[2]][[se]]))) return(NA)
        if (!clustered) return(sqrt(parts[[1]][[se]]^2 + parts[[2]][[se]]^2))
        clustered_error(c(parts[[1]][[psi]], -parts[[2]][[psi]]), c(parts[[1]]$p, parts[[2]]$p))
    }
    se <- error("se", "psi")
    mean_se <- error("mean_se", "mean_psi")
    difference <- parts[[1]]$S - parts[[2]]$S
    mean <- parts[[1]]$mean - parts[[2]]$mean
    # an error of 0 but for rounding tells nothing apart
    tell <- function(value, error, size) if (is.na(error) || error < 1e-9 * size) NA else value
    compare("between", set, ours, list(
        expect("difference", value = difference, scale = 1e-8), expect("standard_error", value = se, scale = 1e-5),
        if (!is.na(se) && se > 1e-6) expect("p", value = 2 * pnorm(-abs(difference / se)), scale = 1e-9),
        if (!is.na(se) && se > 1e-6) expect(c("lower", "upper"), value = difference + c(-1, 1) * z95 * se, scale = 1e-5),
        expect("mean_difference", value = mean, scale = 1e-8 * until),
        expect("mean_difference_error", value = mean_se, scale = 1e-5 * until),
        if (!is.na(mean_se) && mean_se > 1e-6 * until)
            expect("mean_difference_p", value = 2 * pnorm(-abs(mean / mean_se)), scale = 1e-9)))
}
finish()
