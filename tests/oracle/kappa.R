# Kappa by its definition, its large-sample error by numerical derivatives of the multinomial (delta method), and a
# brute-force jackknife.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "pairs.R"))

weight_matrix <- function(k, weights) {
    apart <- abs(outer(seq_len(k), seq_len(k), "-"))
    switch(weights, none = 1 * (apart == 0), linear = 1 - apart / max(k - 1, 1), quadratic = 1 - apart^2 / max(k - 1, 1)^2)
}

kappa_of <- function(P, W) {
    po <- sum(W * P); pe <- sum(W * outer(rowSums(P), colSums(P)))
    if (!is.finite(po) || 1 - pe < 1e-14) return(c(NA, po, pe))
    c((po - pe) / (1 - pe), po, pe)
}

# Gradient of kappa in the cell probabilities, by the product rule (P unconstrained).
gradient <- function(P, W) {
    k <- kappa_of(P, W)
    dpe <- outer(drop(W %*% colSums(P)), drop(t(W) %*% rowSums(P)), "+")
    W / (1 - k[3]) - dpe * (1 - k[2]) / (1 - k[3])^2
}

for (set in data_sets(300, c("plain", "strong", "sparse", "few", "one level", "equal"))) {
    start(set)
    n <- if (set$kind == "few") sample(0:3, 1) else sample(5:80, 1)
    k <- sample(2:5, 1)
    a <- sample(k, n, TRUE, prob = if (set$kind == "sparse") c(0.9, rep(0.1, k - 1)) else rep(1, k))
    b <- ifelse(runif(n) < switch(set$kind, strong = 0.9, plain = 0.5, 0.6), a, sample(k, n, TRUE))
    if (set$kind == "one level") { a[] <- 1; if (set$seed %% 2 == 0) b[] <- 1 }
    if (set$kind == "equal") b <- a
    levels <- k + set$seed %% 2 # now and then a level that never occurs
    weights <- c("none", "linear", "quadratic")[set$seed %% 3 + 1]
    clustered <- set$seed %% 2 == 0 && n > 0
    patient <- if (n > 0) random_clusters(n) else character(0)
    options <- c("--a", "a", "--b", "b", "--levels", paste(seq_len(levels), collapse = ","), "--weights", weights)
    ours <- do.call(reckon, as.list(c(list("kappa", data.frame(a = a, b = b, patient = patient)), options,
                                      if (clustered) c("--cluster", "patient"))))
    W <- weight_matrix(levels, weights)
    table_of <- function(rows) matrix(tabulate(a[rows] + levels * (b[rows] - 1), levels^2), levels) / length(rows)
    P <- table_of(seq_len(n))
    v <- if (n > 0) kappa_of(P, W) else c(NA, NA, NA)
    rows <- rbind(expect("kappa", value = v[1], scale = 0.1), expect("observed", value = v[2]), expect("expected", value = v[3]),
                  expect("n", value = n))
    if (clustered) {
        j <- if (is.na(v[1])) bounded(NA, NA) else
            bounded(v[1], leave_out(function(r) if (length(r)) kappa_of(table_of(r), W)[1] else NA, patient))
        rows <- rbind(rows, expect("standard_error", value = j$error, scale = 1e-3), expect("lower", value = j$lower, scale = 0.1),
                      expect("upper", value = j$upper, scale = 0.1), expect("statistic", value = j$t, scale = 0.01), expect("p", value = j$p))
    } else {
        e <- l <- u <- z <- NA
        if (!is.na(v[1])) {
            G <- gradient(P, W)
            e <- sqrt(max(0, sum(P * G^2) - sum(P * G)^2) / n)
            if (e < 1e-6) e <- 0 # rounding of an exact 0
            Q <- outer(rowSums(P), colSums(P))
            # at kappa 0: cells as independence has them, gradient at those cells
            G0 <- gradient(Q, W)
            e0 <- sqrt(max(0, sum(Q * G0^2) - sum(Q * G0)^2) / n)
            if (e > 0) { l <- max(-1, v[1] - qnorm(0.975) * e); u <- min(1, v[1] + qnorm(0.975) * e) }
            if (e0 > 1e-6) z <- v[1] / e0
        }
        rows <- rbind(rows, expect("standard_error", value = e, scale = 1e-3), expect("lower", value = l, scale = 0.1),
                      expect("upper", value = u, scale = 0.1), expect("statistic", value = z, scale = 0.01),
                      expect("p", value = 2 * pnorm(-abs(z))))
    }
    compare("kappa", set, ours, label = weights, rows)
}
finish()
