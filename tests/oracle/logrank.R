# Log-rank tests: survdiff; with delayed entry the sums written out; with clusters the robust score test of coxph.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

# Observed, expected and hypergeometric covariance from the definition, for any entry and strata.
log_rank_sums <- function(d, levels, strata) {
    O <- E <- setNames(numeric(length(levels)), levels)
    V <- matrix(0, length(levels), length(levels))
    for (s in unique(strata)) for (u in unique(d$time[d$event == 1 & strata == s])) {
        here <- strata == s & d$time >= u & (d$entry < u | d$entry <= 0)
        now <- here & d$time == u & d$event == 1
        n <- sum(here); k <- sum(now)
        share <- table(factor(d$g[here], levels)) / n
        O <- O + table(factor(d$g[now], levels)); E <- E + k * share
        if (n > 1) V <- V + k * (n - k) / (n - 1) * (diag(as.vector(share), length(levels)) - outer(share, share))
    }
    list(O = as.vector(O), E = as.vector(E), V = V)
}

# Chi-square over the groups that were at risk at an event, by a pseudo-inverse: covariances can be singular.
chi_square <- function(u, V, keep) {
    if (sum(keep) < 2) return(c(NA, NA))
    e <- eigen(V[keep, keep, drop = FALSE], symmetric = TRUE)
    use <- e$values > 1e-9 * max(e$values, 1e-300)
    if (!any(use) || max(e$values) < 1e-12) return(c(NA, NA))
    c(sum((crossprod(e$vectors[, use, drop = FALSE], u[keep]))^2 / e$values[use]), sum(use))
}

for (set in data_sets(360, survival_kinds)) {
    start(set)
    delayed <- set$seed %% 2 == 0
    clustered <- set$seed %% 3 == 0
    stratified <- set$seed %% 5 < 2
    d <- follow_up_data(set, delayed, groups = sample(2:4, 1))
    options <- c("--time", "time", "--event", "event", "--by", "g", if (delayed) c("--entry", "entry"),
                 if (clustered) c("--cluster", "p"), if (stratified) c("--strata", "s"))
    ours <- reckon("logrank", d, options)
    trend <- reckon("logrank", d, options, "--trend")
    must("logrank", set, attr(ours, "status") == 0 && attr(trend, "status") == 0, "runs")
    if (nrow(d) == 0) next
    levels <- sort(unique(d$g))
    strata <- if (stratified) d$s else rep("", nrow(d))
    sums <- log_rank_sums(d, levels, strata)
    scores <- seq_along(levels)
    gap <- sums$O - sums$E
    expected <- list(expect("observed", levels, value = sums$O), expect("expected", levels, value = sums$E, scale = 1e-8),
                     expect("variance", levels, value = diag(sums$V), scale = 1e-6))
    if (!clustered) {
        test <- chi_square(gap, sums$V, sums$E > 0)
        expected <- c(expected, list(expect("chi_square", value = test[1], scale = 1e-6), expect("df", value = test[2]),
            expect("p", value = pchisq(test[1], test[2], lower.tail = FALSE), scale = 1e-12)))
        compare("logrank", set, ours, expected)
        var <- drop(scores %*% sums$V %*% scores)
        z <- if (var > 1e-9) sum(scores * gap) / sqrt(var) else NA
        compare("logrank", set, trend, expect(c("trend_z", "p"), value = c(z, 2 * pnorm(-abs(z))), scale = 1e-6), "--trend")
        # survdiff has no timefix in version 3.5: its absolute tolerance would tie tiny times
        if (!delayed && set$kind != "tiny" && !is.na(test[1]) && test[2] == sum(sums$E > 0) - 1) {
            f <- if (length(unique(strata)) > 1) survdiff(Surv(time, event) ~ g + strata(s), d) else
                survdiff(Surv(time, event) ~ g, d)
            compare("logrank", set, ours, expect("chi_square", value = f$chisq, scale = 1e-6), "survdiff")
        }
        next
    }
    compare("logrank", set, ours, expected)
    y <- if (delayed) Surv(d$entry, d$time, d$event) else Surv(d$time, d$event)
    control <- coxph.control(timefix = FALSE, iter.max = 0)
    robust <- function(x) tryCatch(suppressWarnings(coxph(y ~ x + strata(strata), cluster = d$p, ties = "breslow", control = control,
                                                          init = rep(0, if (is.factor(x)) nlevels(x) - 1 else 1))),
                                   error = function(e) NULL)
    # the score residuals at 0 of coxph, summed within clusters; the test where the clusters span it
    judge <- function(f, ours, quantities, label) {
        if (is.null(f) || sum(d$event) == 0) return(invisible())
        r <- rowsum(as.matrix(residuals(f, "score")), d$p)
        bearing <- sum(rowSums(abs(r)) > 1e-10)
        test <- chi_square(colSums(r), crossprod(r), rep(TRUE, ncol(r)))
        if (is.na(test[1]) || bearing <= test[2] || test[2] < ncol(r)) return(invisible())
        compare("logrank", set, ours, expect(quantities[1], value = test[1], scale = 1e-6), label)
        if (!is.null(f$rscore)) compare("logrank", set, ours, expect(quantities[1], value = f$rscore, scale = 1e-6), label)
    }
    if (length(levels) > 1) {
        judge(robust(factor(d$g)), ours, "chi_square", "robust")
        judge(robust(match(d$g, levels)), trend, "chi_square", "robust trend")
    }
}
finish()
