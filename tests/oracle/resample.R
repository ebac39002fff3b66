# The bootstrap draw by draw: the same MT19937 numbers from R's own generator, then R's quantiles.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "random_numbers.R"))

draw <- function(count, below) {          # whole numbers 0..below-1, numbers above the last full block thrown away
    scale <- 4294967295 %/% below
    out <- numeric(0)
    while (length(out) < count) {
        k <- random_numbers(count - length(out)) %/% scale
        out <- c(out, k[k < below])
    }
    out
}

for (set in data_sets(60, c("plain", "ties", "skewed", "huge", "heaped", "lone rows", "constant"))) {
    start(set)
    n <- sample(4:30, 1)
    patient <- if (set$kind == "lone rows") paste0("p", seq_len(n)) else random_clusters(n)
    y <- if (set$kind == "constant") rep(0.3, n) else random_values(n, if (set$kind == "lone rows") "plain" else set$kind)
    statistic <- c("mean", "median")[set$seed %% 2 + 1]
    seed <- sample(1e9, 1); B <- 199
    f <- if (statistic == "mean") mean else median
    ours <- do.call(reckon, c(list("resample", data.frame(y = y, patient = patient), "--value", "y", "--statistic", statistic, "--seed",
        sprintf("%d", seed), "--times", B), if (set$kind != "lone rows") list("--cluster", "patient")))
    m <- unique(patient)                  # clusters are numbered in order of appearance
    rows <- split(seq_len(n), factor(patient, m))
    if (length(m) < 2) {
        compare("resample", set, ours, rbind(expect("estimate", value = f(y)), expect("lower", value = NA), expect("bca_lower", value = NA)))
        next
    }
    seed_mt(seed)
    t <- sapply(seq_len(B), function(i) f(y[unlist(rows[draw(length(m), length(m)) + 1])]))
    t0 <- f(y)
    near <- abs(t - t0) <= 1e-12 * max(abs(y))   # sums in another order
    z0 <- qnorm((sum(t < t0 & !near) + sum(near) / 2) / B)
    left <- sapply(rows, function(r) f(y[-r]))
    u <- mean(left) - left
    a <- if (max(abs(u)) <= 1e-13 * max(abs(left))) NA else sum(u^3) / (6 * sum(u^2)^1.5)
    p <- pnorm(z0 + (z0 + c(-1, 1) * qnorm(0.975)) / (1 - a * (z0 + c(-1, 1) * qnorm(0.975))))
    bca <- if (is.na(a) || is.infinite(z0)) c(NA, NA) else quantile(t, p, type = 6)
    q <- quantile(t, c(0.025, 0.975), type = 6)
    scale <- 1e-3 * max(abs(y))
    compare("resample", set, ours, label = statistic, rbind(
        expect("estimate", value = t0, scale = scale), expect("standard_error", value = sd(t), scale = scale),
        expect("lower", value = q[1], scale = scale), expect("upper", value = q[2], scale = scale),
        expect("acceleration", value = a, scale = 1e-3), expect("bias_correction", value = if (is.finite(z0)) z0 else NA, scale = 1e-3),
        expect("bca_lower", value = bca[1], scale = scale), expect("bca_upper", value = bca[2], scale = scale)))
}
finish()
