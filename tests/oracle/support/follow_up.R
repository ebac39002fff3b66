# Random follow-up data, and the rules of our own that R is asked by: which limits exist, where a band reaches a level.
# timefix = FALSE everywhere: the data hold no times that differ by noise only, and R's own tolerance is absolute below a mean
# time of 1.
suppressPackageStartupMessages(library(survival))

z95 <- qnorm(0.975)
survival_kinds <- c("plain", "ties", "huge", "tiny", "none", "all", "few", "one cluster", "rare")

# time, event, entry, g (group), s (stratum), p (cluster). Without `delayed` entry is 0 for all.
follow_up_data <- function(set, delayed = FALSE, groups = 2) {
    n <- if (set$kind == "few") sample(0:3, 1) else sample(c(4:8, 15, 40, 120), 1)
    shape <- if (set$kind %in% c("none", "all")) set$kind else "some"
    d <- random_survival(n, set$kind, shape)
    if (set$kind == "rare" && n > 2) d$event[sample(n, n - 2)] <- 0L
    if (set$kind == "few") d$time <- ceiling(d$time)
    d$time <- signif(d$time, 9) # rows are matched by 12 digits of their time
    d$entry <- if (delayed) ifelse(runif(n) < 0.4, 0, d$time * runif(n, 0, 0.9)) else numeric(n)
    d$g <- if (n > 0) random_groups(n, groups, fill = FALSE) else character(0)
    d$s <- if (n > 0) random_groups(n, 2, fill = FALSE) else character(0)
    d$p <- if (n > 0) random_clusters(n) else character(0)
    if (set$kind == "one cluster") d$p <- rep("p1", n)
    d
}

# The curve of one group as R has it, with the influence of every row on it (rows x times).
r_curve <- function(d, delayed, form = "log-log") {
    y <- if (delayed) Surv(d$entry, d$time, d$event) else Surv(d$time, d$event)
    survfit(y ~ 1, conf.type = form, influence = TRUE, timefix = FALSE)
}

# Greenwood's error as R has it: with influence = TRUE it would be the jackknife's, which differs under delayed entry.
r_error <- function(d, delayed) {
    y <- if (delayed) Surv(d$entry, d$time, d$event) else Surv(d$time, d$event)
    f <- survfit(y ~ 1, timefix = FALSE)
    f$surv * f$std.err
}

# Sum of squares of the clusters' sums of an influence (a vector or the columns of a matrix).
clustered_error <- function(influence, cluster) sqrt(colSums(rowsum(as.matrix(influence), cluster)^2))

# The three interval forms as published, empty where the curve is 0 or 1.
band <- function(S, se, form) {
    half <- z95 * se
    limits <- suppressWarnings(switch(form,
        "double-log" = cbind(exp(-exp(log(-log(S)) + half / (S * -log(S)))), exp(-exp(log(-log(S)) - half / (S * -log(S))))),
        log = cbind(S * exp(-half / S), pmin(1, S * exp(half / S))),
        untransformed = cbind(pmax(0, S - half), pmin(1, S + half))))
    limits[!(S > 0 & S < 1), ] <- NA
    limits
}

# First time at or below the level, the middle of the span where the values equal it.
time_at <- function(time, value, level) {
    keep <- !is.na(value)
    reached <- which(keep & value <= level + 1e-9)
    if (length(reached) == 0) return(NA)
    first <- reached[1]
    if (value[first] < level - 1e-9) return(time[first])
    lower <- which(keep & value < value[first] - 1e-9 & seq_along(value) > first)
    end <- if (length(lower) > 0) time[lower[1]] else time[length(time)]
    (time[first] + end) / 2
}
