# Limits of agreement: the printed formulas, analysis of variance by aov, CR2 in closed form, a brute-force jackknife.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "pairs.R"))

four <- c("bias", "sd", "lower_limit", "upper_limit")
three <- function(name, v, scale) expect(paste0(name, c("", "_lower", "_upper")), value = v, scale = scale)

for (set in data_sets(150, c("plain", "ties", "heaped", "huge", "tiny", "offset", "few", "constant"))) {
    start(set)
    n <- if (set$kind == "few") sample(0:3, 1) else sample(4:60, 1)
    kind <- if (set$kind %in% c("few", "constant")) "plain" else set$kind
    a <- random_values(n, kind)
    b <- if (set$kind == "constant") a + 0 else random_values(n, kind)
    k <- sample(c(1.96, 2, 1.645), 1)
    ours <- reckon("agreement", data.frame(a = a, b = b), "--a", "a", "--b", "b", "--multiple", sprintf("%.17g", k))
    d <- b - a
    s <- if (n > 1) sd(d) else NA
    m <- if (n > 0) mean(d) else NA
    t <- if (n > 1) qt(0.975, n - 1) else NA
    e <- s * sqrt(1 / n + k^2 / (2 * (n - 1)))
    if (!is.na(s) && s == 0) e <- t <- NA # no spread, no interval
    # differences of numbers near 1e9 carry their rounding
    scale <- if (n > 0) 1e-3 * max(abs(d), abs(a) * 1e-6) else 0
    sd_limits <- if (n > 1) s * sqrt((n - 1) / qchisq(c(0.975, 0.025), n - 1)) else c(NA, NA)
    if (!is.na(s) && s == 0) sd_limits <- c(NA, NA)
    compare("agreement", set, ours, rbind(
        three("bias", c(m, m + c(-1, 1) * t * s / sqrt(n)), scale),
        three("sd", c(s, sd_limits), scale), three("lower_limit", m - k * s + c(0, -t * e, t * e), scale),
        three("upper_limit", c(0, -t * e, t * e) + m + k * s, scale), expect("n", value = n)))
}

# Limits of agreement from the intervals of their parts (value, lower, upper) and the correlation r (Zou & Donner 2008).
joined <- function(bias, sd, k, r) {
    r <- if (is.na(r)) 0 else r
    reach <- function(a, b, s) sqrt(a^2 + b^2 + 2 * s * r * a * b)
    list(lower = c(bias[1] - k * sd[1], bias[1] - k * sd[1] - reach(bias[1] - bias[2], k * (sd[3] - sd[1]), -1),
                   bias[1] - k * sd[1] + reach(bias[3] - bias[1], k * (sd[1] - sd[2]), -1)),
         upper = c(bias[1] + k * sd[1], bias[1] + k * sd[1] - reach(bias[1] - bias[2], k * (sd[1] - sd[2]), 1),
                   bias[1] + k * sd[1] + reach(bias[3] - bias[1], k * (sd[3] - sd[1]), 1)))
}
correlation <- function(a, b) if (length(a) < 2 || anyNA(c(a, b)) || sd(a) == 0 || sd(b) == 0) NA else cor(a, b)

# One-way analysis of variance of the differences by patient.
components <- function(d, patient) {
    N <- length(d); m <- as.vector(table(patient)); n <- length(m)
    if (n < 2) return(c(NA, NA, NA))
    if (N == n) return(c(NA, NA, sd(d)))
    ms <- summary(aov(d ~ factor(patient)))[[1]][["Mean Sq"]]
    k <- (N - sum(m^2) / N) / (n - 1)
    between <- max(0, (ms[1] - ms[2]) / k)
    c(sqrt(between), sqrt(ms[2]), sqrt(between + ms[2]))
}

for (set in data_sets(150, c("plain", "ties", "heaped", "lone rows", "one patient", "small", "huge"), first = 1001L)) {
    start(set)
    n <- if (set$kind == "small") sample(2:6, 1) else sample(8:50, 1)
    patient <- switch(set$kind, "one patient" = rep("p", n), "lone rows" = paste0("p", seq_len(n)), random_clusters(n))
    d <- clustered_values(patient, runif(1, 0, 0.8)) + 0.3
    d <- switch(set$kind, ties = round(d), heaped = round(2 * d) / 2, huge = 1e9 * d, d)
    ours <- reckon("agreement", data.frame(a = rep(0, n), b = d, patient = patient), "--a", "a", "--b", "b", "--cluster", "patient")
    all <- components(d, patient)
    m <- length(unique(patient))
    q <- if (m > 1) qt(0.975, m - 1) else NA
    sds <- leave_out(function(r) components(d[r], patient[r])[3], patient)
    # CR2 error of a mean and its Satterthwaite df (Bell & McCaffrey 2002), closed form for one constant
    size <- as.vector(table(patient)); sums <- as.vector(tapply(d - mean(d), patient, sum))
    kc <- 1 / sqrt(1 - size / n) / n
    G <- outer(kc, kc) * (diag(size, length(size)) - outer(size, size) / n)
    bias_error <- if (m > 1) sqrt(sum((sums * kc)^2)) else NA
    bias_df <- if (m > 1) sum(diag(G))^2 / sum(G^2) else NA
    bias <- if (m > 1 && bias_error > 0) c(mean(d), mean(d) + c(-1, 1) * qt(0.975, bias_df) * bias_error) else c(mean(d), NA, NA)
    means <- leave_out(function(r) mean(d[r]), patient)
    scale <- 1e-3 * max(abs(d))
    sd_error <- jackknife_error(sds)
    f <- exp(q * sd_error / all[3])
    sd_rows <- c(all[3], if (is.na(all[3]) || all[3] == 0 || is.na(sd_error) || sd_error == 0) c(NA, NA) else all[3] * c(1 / f, f))
    limits <- joined(bias, sd_rows, 1.96, correlation(means, sds))
    compare("agreement", set, ours, label = "clusters", rbind(
        three("sd", sd_rows, scale), expect("sd_between", value = all[1], scale = scale), expect("sd_within", value = all[2], scale = scale),
        three("bias", bias, scale),
        three("lower_limit", limits$lower, scale), three("upper_limit", limits$upper, scale)))
}

# Signed rank and pseudomedian.
for (set in data_sets(120, c("untied", "ties", "heaped", "huge", "few", "zeros"), first = 2001L)) {
    start(set)
    n <- switch(set$kind, few = sample(1:5, 1), untied = sample(c(7, 30, 49, 50, 80), 1), sample(6:60, 1))
    d <- switch(set$kind, zeros = rep(0, n), untied = , few = rnorm(n, 0.2), random_values(n, set$kind))
    ours <- reckon("agreement", data.frame(a = rep(0, n), b = d), "--a", "a", "--b", "b")
    A <- outer(d, d, "+") / 2
    A <- sort(A[lower.tri(A, TRUE)])
    exact <- !anyDuplicated(abs(d)) && all(d != 0) && n < 50
    w <- suppressWarnings(wilcox.test(d))
    k <- if (exact) qsignrank(0.025, n) else floor(length(A) / 2 - qnorm(0.975) * sqrt(length(A) * (2 * n + 1) / 12))
    none <- all(d == 0)
    limits <- if (k < 1 || none) c(NA, NA) else A[c(k, length(A) + 1 - k)]
    if (exact && k >= 1) stopifnot(all.equal(limits, as.vector(wilcox.test(d, conf.int = TRUE)$conf.int)))
    scale <- 1e-3 * max(abs(d), 1e-300)
    compare("agreement", set, ours, label = "signed rank", rbind(
        expect("signed_rank", value = w$statistic), expect("signed_rank_p", value = if (none) NA else w$p.value),
        expect("pseudomedian", value = median(A), scale = scale), expect("pseudomedian_lower", value = limits[1], scale = scale),
        expect("pseudomedian_upper", value = limits[2], scale = scale)))
}

# A constant true value per subject.
constant <- function(a, b, s) {
    m <- as.vector(table(s)); n <- length(m)
    D <- as.vector(tapply(b, s, mean) - tapply(a, s, mean))
    w <- function(v) if (length(v) > n) sum(tapply(v, s, function(u) sum((u - mean(u))^2))) / (length(v) - n) else 0
    c(mean(D), if (n > 1) sqrt(var(D) + (1 - mean(1 / m)) * (w(a) + w(b))) else NA)
}
for (set in data_sets(60, c("plain", "heaped", "lone rows", "one subject"), first = 3001L)) {
    start(set)
    n <- sample(6:40, 1)
    s <- switch(set$kind, "one subject" = rep("s", n), "lone rows" = paste0("s", seq_len(n)), random_clusters(n))
    a <- clustered_values(s, 0.8); b <- clustered_values(s, 0.8) + 0.2
    if (set$kind == "heaped") { a <- round(2 * a) / 2; b <- round(2 * b) / 2 }
    ours <- reckon("agreement", data.frame(a = a, b = b, s = s), "--a", "a", "--b", "b", "--cluster", "s", "--true-value", "constant")
    v <- constant(a, b, s)
    m <- length(unique(s)); q <- if (m > 1) qt(0.975, m - 1) else NA
    left <- matrix(leave_out(function(r) constant(a[r], b[r], s[r]), s), nrow = 2)
    wald <- function(value, reps) { e <- jackknife_error(reps); c(value, if (is.na(e) || e == 0) c(NA, NA) else value + c(-1, 1) * q * e) }
    e <- jackknife_error(left[2, ])
    sds <- c(v[2], if (is.na(e) || e == 0) c(NA, NA) else v[2] * exp(c(-1, 1) * q * e / v[2]))
    limits <- joined(wald(v[1], left[1, ]), sds, 1.96, correlation(left[1, ], left[2, ]))
    compare("agreement", set, ours, label = "constant", rbind(
        three("bias", wald(v[1], left[1, ]), 1e-2), three("sd", sds, 1e-2),
        three("lower_limit", limits$lower, 1e-2), three("upper_limit", limits$upper, 1e-2)))
}
finish()
