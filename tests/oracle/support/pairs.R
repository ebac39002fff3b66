# Pair scores by brute force, and the delete-one-cluster jackknife by leaving each cluster out and starting afresh: written
# from the definitions, not from the program.

# n x n matrix of the scores of (i, j): 1 when i is surely larger, -1 when surely smaller.
score_matrix <- function(v, capped = rep(FALSE, length(v))) {
    s <- sign(outer(v, v, "-"))
    n <- length(v)
    for (i in seq_len(n)) for (j in seq_len(n)) {
        if (capped[i] && capped[j]) s[i, j] <- 0
        else if (capped[i]) s[i, j] <- if (v[j] <= v[i]) 1 else 0
        else if (capped[j]) s[i, j] <- if (v[i] <= v[j]) -1 else 0
    }
    s
}

# statistic(rows) of all rows without each cluster.
leave_out <- function(statistic, cluster) {
    rows <- seq_along(cluster)
    sapply(unique(cluster), function(u) statistic(rows[cluster != u]))
}

jackknife_error <- function(replicates) {
    m <- length(replicates)
    if (m < 2 || anyNA(replicates)) return(NA)
    e <- sqrt((m - 1) / m * sum((replicates - mean(replicates))^2))
    if (e < 1e-13 * max(abs(replicates))) 0 else e
}

# Value, error, limits, t, df and p on Fisher's z scale.
bounded <- function(value, replicates) {
    m <- length(replicates)
    e <- jackknife_error(replicates)
    out <- list(value = value, error = e, lower = NA, upper = NA, t = NA, p = NA, df = if (is.na(e)) NA else m - 1)
    if (is.na(value) || is.na(e) || e == 0 || abs(value) >= 1 - 1e-14) return(out)
    ez <- e / (1 - value^2)
    q <- qt(0.975, m - 1)
    out$lower <- tanh(atanh(value) - q * ez)
    out$upper <- tanh(atanh(value) + q * ez)
    out$t <- atanh(value) / ez
    out$p <- 2 * pt(-abs(out$t), m - 1)
    out
}

# Capped cells as the file has them.
as_limits <- function(v, capped) ifelse(capped, sprintf(">%.17g", v), sprintf("%.17g", v))

exactly <- function(r) if (!is.na(r) && abs(r) > 1 - 1e-13) sign(r) else r
