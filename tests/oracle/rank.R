# Spearman and tau-b against cor.test, brute-force pair scores and a brute-force jackknife.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "pairs.R"))

correlations <- function(x, y, capped = rep(FALSE, length(y))) {
    a <- score_matrix(x); b <- score_matrix(y, capped)
    if (length(x) < 2 || sum(a^2) == 0 || sum(b^2) == 0) return(c(NA, NA))
    ra <- rowSums(a); rb <- rowSums(b)
    c(exactly(sum(ra * rb) / sqrt(sum(ra^2) * sum(rb^2))), exactly(sum(a * b) / sqrt(sum(a^2) * sum(b^2))))
}

# z limits with a variance that depends on n alone; NA at the bounds.
fisher <- function(r, v) if (is.na(r) || is.na(v) || abs(r) >= 1) c(NA, NA) else tanh(atanh(r) + c(-1, 1) * qnorm(0.975) * sqrt(v))

shapes <- list(
    tiny = function(n, k) rnorm(n), untied = function(n, k) rnorm(n), heaped = function(n, k) random_values(n, "heaped"),
    classes = function(n, k) sample(4, n, TRUE), huge = function(n, k) random_values(n, "huge"),
    small = function(n, k) random_values(n, "tiny"), one = function(n, k) rep(3, n))

for (set in data_sets(280, names(shapes))) {
    start(set)
    n <- switch(set$kind, tiny = sample(0:9, 1), untied = sample(c(8:12, 30, 49:51, 80), 1), sample(3:60, 1))
    x <- shapes[[set$kind]](n)
    y <- if (set$kind %in% c("tiny", "untied", "huge", "small")) rnorm(n) + if (n > 1 && sd(x) > 0) runif(1, -2, 2) * x / sd(x) else 0 else random_values(n, "ties")
    ours <- reckon("rank", data.frame(x = x, y = y), "--x", "x", "--y", "y")
    r <- correlations(x, y)
    p <- c(NA, NA)
    if (!anyNA(r)) {
        p[1] <- if (anyDuplicated(x) || anyDuplicated(y)) {
            if (n < 3) NA else 2 * pt(-abs(r[1] * sqrt((n - 2) / (1 - r[1]^2))), n - 2)
        } else cor.test(x, y, method = "spearman")$p.value
        # cor.test takes the upper tail of Kendall's T as 1 - P, which loses digits; the mirror image has it directly
        p[2] <- suppressWarnings(cor.test(x, if (r[2] > 0) -y else y, method = "kendall"))$p.value
    }
    ls <- fisher(r[1], if (n > 3) (1 + r[1]^2 / 2) / (n - 3) else NA)
    lt <- fisher(r[2], if (n > 4) 0.437 / (n - 4) else NA)
    compare("rank", set, ours, rbind(
        expect("spearman", value = r[1], scale = 0.1), expect("spearman_lower", value = ls[1], scale = 0.1),
        expect("spearman_upper", value = ls[2], scale = 0.1), expect("spearman_p", value = p[1]),
        expect("tau_b", value = r[2], scale = 0.1), expect("tau_b_lower", value = lt[1], scale = 0.1),
        expect("tau_b_upper", value = lt[2], scale = 0.1), expect("tau_b_p", value = p[2]), expect("n", value = n)))
}

# Many rows: cor.test with its large-sample rules (Spearman's series ends at 1290 rows).
for (set in data_sets(8, c("untied", "heaped"), first = 2001L)) {
    start(set)
    n <- c(1290, 1291, 2500)[(set$seed %% 3) + 1]
    x <- random_values(n, if (set$kind == "untied") "plain" else "heaped")
    y <- random_values(n, if (set$kind == "untied") "plain" else "heaped") + x * runif(1, -0.1, 0.1)
    ours <- reckon("rank", data.frame(x = x, y = y), "--x", "x", "--y", "y")
    s <- suppressWarnings(cor.test(x, y, method = "spearman")); k <- suppressWarnings(cor.test(x, y, method = "kendall"))
    compare("rank", set, ours, rbind(expect("spearman", value = s$estimate), expect("spearman_p", value = s$p.value),
        expect("tau_b", value = k$estimate), expect("tau_b_p", value = k$p.value)))
}

# Clusters, with and without limits reached.
for (set in data_sets(160, c("plain", "ties", "heaped", "capped", "one patient", "lone rows"), first = 3001L)) {
    start(set)
    n <- sample(c(2:5, 8, 20, 45), 1)
    patient <- switch(set$kind, "one patient" = rep("p", n), "lone rows" = paste0("p", seq_len(n)), random_clusters(n))
    x <- if (set$kind %in% c("ties", "heaped")) sample(4, n, TRUE) else round(clustered_values(patient), 2)
    y <- clustered_values(patient) + x / 2
    y <- if (set$kind == "ties") round(y) else round(y, 1)
    capped <- set$kind == "capped" & runif(n) < 0.3
    d <- data.frame(x = x, y = as_limits(y, capped), patient = patient)
    ours <- reckon("rank", d, "--x", "x", "--y", "y", "--cluster", "patient")
    f <- function(rows) correlations(x[rows], y[rows], capped[rows])
    r <- f(seq_len(n))
    left <- if (anyNA(r)) matrix(NA, 2, 1) else matrix(leave_out(f, patient), nrow = 2)
    s <- bounded(r[1], left[1, ]); k <- bounded(r[2], left[2, ])
    compare("rank", set, ours, label = "clusters", rbind(
        expect("spearman", value = s$value, scale = 0.1), expect("spearman_error", value = s$error, scale = 1e-3),
        expect("spearman_lower", value = s$lower, scale = 0.1), expect("spearman_upper", value = s$upper, scale = 0.1),
        expect("spearman_p", value = s$p), expect("tau_b", value = k$value, scale = 0.1),
        expect("tau_b_error", value = k$error, scale = 1e-3), expect("tau_b_lower", value = k$lower, scale = 0.1),
        expect("tau_b_upper", value = k$upper, scale = 0.1), expect("tau_b_p", value = k$p), expect("df", value = s$df)))
}
finish()
