# Quantiles: type 7, Woodruff limits with the survey package's clustered error of a share, and Kaplan-Meier on the values
# with survfit's clustered error.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages({ library(survey); library(survival) })
options(survey.lonely.psu = "fail")

q7 <- function(y, p) if (p < 0 || p > 1) NA else unname(quantile(y, p, type = 7))

for (set in data_sets(180, c("plain", "ties", "heaped", "huge", "tiny", "few", "clusters", "one patient"))) {
    start(set)
    n <- if (set$kind == "few") sample(1:4, 1) else sample(5:80, 1)
    g <- random_groups(n, 2)
    clustered <- set$kind %in% c("clusters", "one patient", "ties")
    patient <- if (set$kind == "one patient") rep("p", n) else random_clusters(n)
    y <- random_values(n, if (set$kind %in% c("few", "clusters", "one patient")) "plain" else set$kind)
    shares <- sort(round(runif(2, 0.05, 0.95), 2)); if (anyDuplicated(shares)) next
    ours <- do.call(reckon, c(list("quantile", data.frame(y = y, g = g, patient = patient), "--value", "y", "--by", "g", "--q",
        paste(shares, collapse = ",")), if (clustered) list("--cluster", "patient")))
    rows <- NULL
    for (l in sort(unique(g))) for (p in shares) {
        own <- y[g == l]
        id <- if (clustered) patient[g == l] else seq_along(own)
        m <- length(unique(id))
        v <- q7(own, p)
        lower <- upper <- NA
        if (m > 1) {
            below <- as.numeric(own <= v)
            design <- svydesign(ids = ~id, weights = rep(1, length(own)), data = data.frame(below, id))
            e <- as.numeric(SE(svymean(~below, design)))
            t <- qt(0.975, m - 1)
            lower <- q7(own, p - t * e); upper <- q7(own, p + t * e)
        }
        scale <- 1e-3 * max(abs(own))
        rows <- rbind(rows, expect("estimate", l, p, v, scale), expect("lower", l, p, lower, scale), expect("upper", l, p, upper, scale),
            expect("df", l, p, if (m > 1) m - 1 else NA), expect("standard_error", l, p, (upper - lower) / (2 * qt(0.975, max(1, m - 1))), scale))
    }
    compare("quantile", set, ours, rows)
}

# Values at a limit.
inverse <- function(fit, s) {           # survfit's own rule: first time at or below, middle of a flat span
    if (s <= 0 || s >= 1) return(NA)
    unname(quantile(fit, 1 - s, conf.int = FALSE))
}
for (set in data_sets(120, c("some", "many", "all", "clusters", "few"), first = 1001L)) {
    start(set)
    n <- if (set$kind == "few") sample(2:5, 1) else sample(8:70, 1)
    y <- round(runif(n, 10, 80)); limit <- 60
    capped <- switch(set$kind, all = rep(TRUE, n), many = runif(n) < 0.6, runif(n) < 0.2) | y > 75
    if (!any(capped)) next
    clustered <- set$kind == "clusters"
    patient <- random_clusters(n)
    ours <- do.call(reckon, c(list("quantile", data.frame(y = ifelse(capped, paste0(">", y), y), patient = patient), "--value", "y", "--q",
        "0.25,0.5"), if (clustered) list("--cluster", "patient")))
    id <- if (clustered) patient else seq_len(n)
    m <- length(unique(id))
    event <- as.integer(!capped)
    fit <- survfit(Surv(y, event) ~ 1, cluster = id)
    rows <- NULL
    for (p in c(0.25, 0.5)) {
        v <- inverse(fit, 1 - p)
        lower <- upper <- NA
        if (!is.na(v) && m > 1) {
            at <- summary(fit, times = v, extend = TRUE)
            # without clusters Greenwood's error, which for untied data without limits is the same
            e <- if (clustered) at$std.err else summary(survfit(Surv(y, event) ~ 1), times = v, extend = TRUE)$std.err
            e <- if (at$surv > 0) e * sqrt(m / (m - 1)) else NA
            if (!is.na(e)) {
                t <- qt(0.975, m - 1)
                lower <- inverse(fit, 1 - p + t * e); upper <- inverse(fit, 1 - p - t * e)
            }
        }
        rows <- rbind(rows, expect("estimate", "", p, v), expect("lower", "", p, lower), expect("upper", "", p, upper))
    }
    compare("quantile", set, ours, label = "limits", rows)
}
finish()
