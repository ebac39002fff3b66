# Kruskal-Wallis against kruskal.test and coin, Jonckheere against its formula, all orders of small samples, and a
# brute-force jackknife.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "pairs.R"))
suppressPackageStartupMessages(library(coin))

jonckheere <- function(y, g) {
    total <- 0
    for (a in unique(g)) for (b in unique(g)) if (a < b)
        total <- total + sum(outer(y[g == a], y[g == b], function(u, v) (u < v) + (u == v) / 2))
    total
}

# Hollander & Wolfe (1999), eq. 6.19.
jonckheere_variance <- function(y, g) {
    N <- length(y); n <- as.vector(table(g)); t <- as.vector(table(y))
    f <- function(u) sum(u * (u - 1) * (2 * u + 5)); h <- function(u) sum(u * (u - 1) * (u - 2)); q <- function(u) sum(u * (u - 1))
    v <- (N * (N - 1) * (2 * N + 5) - f(n) - f(t)) / 72 + q(n) * q(t) / (8 * N * (N - 1))
    if (N > 2) v <- v + h(n) * h(t) / (36 * N * (N - 1) * (N - 2))
    v
}

# Exact distribution without ties: coefficients of the q-multinomial (Kendall & Stuart), by integer polynomial division.
jonckheere_counts <- function(n) {
    multiply <- function(p, k) c(p, rep(0, k)) - c(rep(0, k), p)
    divide <- function(p, k) { for (i in seq_along(p)) if (i > k) p[i] <- p[i] + p[i - k]; p[seq_len(length(p) - k)] }
    p <- 1
    todo <- unlist(lapply(n, seq_len)); up <- seq_len(sum(n))
    for (i in seq_along(up)) { p <- multiply(p, up[i]); p <- divide(p, todo[i]) }
    p
}

for (set in data_sets(160, c("untied", "ties", "heaped", "huge", "few", "one level", "constant"))) {
    start(set)
    n <- switch(set$kind, few = sample(0:5, 1), untied = sample(c(6, 10, 14, 49, 50, 70), 1), sample(6:60, 1))
    g <- if (set$kind == "one level") rep("L1", n) else if (n == 0) character(0) else random_groups(n, sample(2:4, 1), fill = set$kind != "few")
    y <- switch(set$kind, constant = rep(2.5, n), random_values(n, switch(set$kind, untied = "plain", few = "plain", "one level" = "plain", set$kind)))
    ours <- reckon("ordered", data.frame(y = y, g = g), "--response", "y", "--group", "g")
    undefined <- length(unique(g)) < 2 || length(unique(y)) < 2
    k <- if (undefined) list(statistic = NA, parameter = NA, p.value = NA) else kruskal.test(y, factor(g))
    J <- if (undefined) NA else jonckheere(y, g)
    v <- if (undefined) NA else jonckheere_variance(y, g)
    sizes <- as.vector(table(g))
    m <- (n^2 - sum(sizes^2)) / 4
    z <- if (!undefined) (J - m) / sqrt(v) else NA
    p <- 2 * pnorm(-abs(z))
    if (!undefined && !anyDuplicated(y) && n <= 14) { # beyond that integers leave the doubles of this formula
        counts <- jonckheere_counts(sizes)
        p <- min(1, 2 * sum(counts[seq_len(min(J, 2 * m - J) + 1)]) / sum(counts))
    } else if (!undefined && !anyDuplicated(y) && n < 50) p <- NULL
    compare("ordered", set, ours, rbind(
        expect("kruskal_wallis", value = k$statistic), expect("kruskal_wallis_df", value = k$parameter),
        expect("kruskal_wallis_p", value = k$p.value), expect("jonckheere", value = J),
        expect("jonckheere_statistic", value = z, scale = 0.01), expect("jonckheere_p", value = p),
        expect("concordance", value = if (undefined) NA else J / (2 * m))))
}

# Exact p up to 49 rows against coin's exact permutation distribution of two groups.
for (set in data_sets(24, c("untied"), first = 1001L)) {
    start(set)
    n <- sample(15:49, 1)
    d <- data.frame(y = rnorm(n), g = random_groups(n, 2))
    d$y <- d$y + (d$g == "L2") * runif(1, 0, 2)
    ours <- reckon("ordered", d, "--response", "y", "--group", "g")
    p <- wilcox.test(y ~ g, d, exact = TRUE)$p.value
    compare("ordered", set, ours, expect("jonckheere_p", value = p))
}

# Limits reached: H as the permutation (quadratic) statistic of the pair-score ranks.
for (set in data_sets(40, c("capped"), first = 2001L)) {
    start(set)
    n <- sample(5:40, 1)
    g <- random_groups(n, 3); y <- round(rnorm(n, 40, 15)); capped <- runif(n) < 0.3
    ours <- reckon("ordered", data.frame(y = as_limits(y, capped), g = g), "--response", "y", "--group", "g")
    b <- score_matrix(y, capped); a <- score_matrix(as.integer(factor(g)))
    ranks <- rowSums(b)
    if (all(ranks == 0)) next
    h <- independence_test(r ~ g, data.frame(r = ranks, g = factor(g)), teststat = "quadratic")
    A <- sum(rowSums(a)^2); B <- sum(ranks^2); X <- sum(a^2); Y <- sum(b^2)
    v <- 4 * (A - X) * (B - Y) / (n * (n - 1) * (n - 2)) + 2 * X * Y / (n * (n - 1))
    z <- sum(a * b) / sqrt(v)
    compare("ordered", set, ours, label = "capped", rbind(
        expect("kruskal_wallis", value = as.numeric(statistic(h))), expect("jonckheere", value = (X + sum(a * b)) / 4),
        expect("jonckheere_statistic", value = z, scale = 0.01), expect("jonckheere_p", value = 2 * pnorm(-abs(z)))))
}

# Clusters.
for (set in data_sets(140, c("plain", "ties", "capped", "small", "one patient", "constant"), first = 3001L)) {
    start(set)
    n <- if (set$kind == "small") sample(3:9, 1) else sample(12:50, 1)
    patient <- if (set$kind == "one patient") rep("p", n) else random_clusters(n)
    g <- random_groups(n, sample(2:4, 1))
    y <- clustered_values(patient) + as.integer(factor(g)) / 3
    y <- switch(set$kind, ties = round(y), constant = rep(1, n), round(y, 1))
    capped <- set$kind == "capped" & runif(n) < 0.3
    ours <- reckon("ordered", data.frame(y = as_limits(y, capped), g = g, patient = patient), "--response", "y", "--group", "g",
                   "--cluster", "patient")
    levels <- sort(unique(g))
    concordance <- function(rows) {
        a <- score_matrix(as.integer(factor(g[rows]))); b <- score_matrix(y[rows], capped[rows])
        if (sum(a^2) == 0) NA else sum(a * b) / sum(a^2)
    }
    effects <- function(rows) sapply(levels, function(l) {
        b <- rowSums(score_matrix(y[rows], capped[rows]))
        0.5 + mean(b[g[rows] == l]) / (2 * length(rows))
    })
    all_rows <- seq_len(n)
    undefined <- length(levels) < 2 || all(score_matrix(y, capped) == 0)
    value <- if (undefined) NA else concordance(all_rows)
    b <- bounded(value, if (undefined) NA else leave_out(concordance, patient))
    w <- list(w = NA, p = NA)
    if (!undefined) {
        left <- matrix(leave_out(effects, patient), nrow = length(levels))
        m <- ncol(left); q <- length(levels) - 1
        if (!anyNA(left) && m >= 2) {
            V <- (m - 1) / m * tcrossprod(left - rowMeans(left))
            K <- cbind(1, -diag(q)) # first level against each other one
            full <- qr(K %*% V %*% t(K), tol = 1e-9)$rank == q
            if (full && m > q) {
                w$w <- drop(t(K %*% effects(all_rows)) %*% solve(K %*% V %*% t(K), K %*% effects(all_rows)))
                w$p <- pf(w$w * (m - q) / (q * (m - 1)), q, m - q, lower.tail = FALSE)
            }
        }
    }
    compare("ordered", set, ours, label = "clusters", rbind(
        expect("concordance", value = (1 + value) / 2), expect("concordance_lower", value = (1 + b$lower) / 2, scale = 0.1),
        expect("concordance_upper", value = (1 + b$upper) / 2, scale = 0.1),
        expect("jonckheere_statistic", value = b$t, scale = 0.01), expect("jonckheere_p", value = b$p),
        expect("jonckheere_df", value = b$df), expect("kruskal_wallis", value = w$w), expect("kruskal_wallis_p", value = w$p)))
}
finish()
