# The knee against nlme (maximum likelihood with a random intercept at each step), and its bootstrap against R's own.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "knee.R"))

# Log-likelihood (up to a constant) by the profile over the ratio of variances, from the definition.
profile_fit <- function(X, y, cl) {
    groups <- split(seq_along(y), cl)
    at <- function(share) {
        ratio <- share / (1 - share)
        A <- matrix(0, ncol(X), ncol(X)); b <- numeric(ncol(X)); yy <- 0; ld <- 0
        for (g in groups) {
            m <- length(g)
            V <- diag(m) + ratio
            W <- solve(V)
            Xg <- X[g, , drop = FALSE]
            A <- A + t(Xg) %*% W %*% Xg
            b <- b + t(Xg) %*% W %*% y[g]
            yy <- yy + sum(y[g] * (W %*% y[g]))
            ld <- ld + log(1 + m * ratio)
        }
        beta <- solve(A, b)
        rss <- yy - sum(beta * b)
        list(value = -0.5 * (length(y) * log(rss) + ld), beta = drop(beta), rss = rss, ratio = ratio)
    }
    shares <- c(0, 0.03, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.97)
    v <- sapply(shares, function(s) at(s)$value)
    i <- which.max(v)
    o <- optimize(function(s) at(s)$value, c(shares[max(1, i - 1)], if (i < 10) shares[i + 1] else 0.999), maximum = TRUE, tol = 1e-10)
    if (o$objective > v[i]) at(o$maximum) else at(shares[i])
}

widened <- 0
for (set in data_sets(20, c("knee", "line", "alone", "fine", "offset"))) {
    start(set)
    times <- c(39, 299, 19, 9)[(set$seed - 1) %/% 5 + 1]           # 9 replicates can reject nothing
    n <- sample(60:100, 1)
    cl <- if (set$kind == "alone") paste0("p", seq_len(n)) else random_clusters(n, 70)
    while (length(unique(cl)) < 40) cl <- random_clusters(n, 70)
    x <- round(runif(n, 1, 6), if (set$kind == "fine") 6 else 1)
    u <- clustered_values(cl, if (set$kind == "alone") 0 else 0.4)
    y <- 0.3 * u + if (set$kind == "line") -0.2 * x else -0.1 - 0.5 * pmax(0, 4 - x)
    if (set$kind == "offset") y <- y * 1e6 + 1e8
    d <- data.frame(x = x, y = y, cl = cl)
    ours <- reckon("knee", d, "--response", "y", "--x", "x", "--cluster", "cl", "--times", times)
    q <- quantile(x, c(0.15, 0.85))
    grid <- round(seq(ceiling(q[1] * 10 - 1e-9), floor(q[2] * 10 + 1e-9)) / 10, 1)
    grid <- grid[sapply(grid, function(k) sum(x < k - 1e-12) >= 15 && sum(x > k + 1e-12) >= 15)]
    xs <- x - mean(x)
    ys <- y - fitted(lm(y ~ xs))
    scale <- sqrt(sum(ys^2))
    line <- profile_fit(cbind(1, xs), ys / scale, cl)
    fits <- lapply(grid, function(k) profile_fit(cbind(1, xs, pmax(0, x - k)), ys / scale, cl))
    lr <- pmax(0, 2 * (sapply(fits, `[[`, "value") - line$value))
    b <- which.max(lr)
    best <- fits[[b]]
    two <- sort(lr, decreasing = TRUE)[1:2]
    set_of <- kept_knees(x, ys / scale, cl, grid, lr, best$ratio, times)
    if (!set_of$clear || diff(-two) < 1e-6) next                   # the decision hangs on rounding
    kept <- set_of$kept
    widened <- widened + (times >= 19) * sum(kept & max(lr) - lr > qchisq(0.95, 1))
    slope <- unname(coef(lm(y ~ xs))[2])
    below <- slope + best$beta[2] * scale
    above <- below + best$beta[3] * scale
    unit <- scale / sqrt(n)
    compare("knee", set, ours, rbind(
        expect("knee", value = grid[b]), expect("lower", value = min(grid[kept])), expect("upper", value = max(grid[kept])),
        expect("slope_below", value = below, scale = unit), expect("slope_above", value = above, scale = unit),
        if (set$kind != "alone")                                   # a ratio that rows of their own cannot tell
            rbind(expect("sd_within", value = scale * sqrt(best$rss / n)),
                  expect("sd_between", value = scale * sqrt(best$rss / n * best$ratio), scale = 1e-2 * unit)),
        expect("statistic", value = max(lr), scale = 1), expect("likelihood_ratio", at = grid, value = lr, scale = 1),
        expect("kept", at = grid, value = as.numeric(kept)), expect("pieces", value = sum(diff(c(FALSE, kept)) == 1)),
        expect("at_edge", value = as.numeric(kept[1] || kept[length(kept)]))))
    if (set$kind == "knee" && requireNamespace("nlme", quietly = TRUE)) {
        fit <- try(nlme::lme(y ~ x + h, random = ~ 1 | cl, data = transform(d, h = pmax(0, x - grid[b])), method = "ML"), silent = TRUE)
        if (!inherits(fit, "try-error"))
            must("knee", set, abs(as.numeric(logLik(fit)) - as.numeric(logLik(nlme::lme(y ~ x, random = ~ 1 | cl, data = d,
                method = "ML"))) - max(lr) / 2) < 1e-4, "likelihood ratio of nlme")
    }
}

must("knee", set, widened > 0, "no set was wider than by chi-square")

# p: R's own bootstrap of the same kind, other random numbers: the two agree within their Monte Carlo error.
for (set in data_sets(2, "bootstrap", first = 901L)) {
    start(set)
    n <- 80
    cl <- random_clusters(n, 90)
    while (length(unique(cl)) < 40) cl <- random_clusters(n, 90)
    x <- round(runif(n, 1, 6), 1)
    y <- 0.6 * clustered_values(cl, 0.4) - c(0.15, 0.3, 0.2)[set$seed - 900] * pmax(0, 4 - x)
    d <- data.frame(x = x, y = y, cl = cl)
    ours <- reckon("knee", d, "--response", "y", "--x", "x", "--cluster", "cl", "--step", 0.5, "--times", 1999)
    q <- quantile(x, c(0.15, 0.85))
    grid <- seq(ceiling(q[1] * 2 - 1e-9), floor(q[2] * 2 + 1e-9)) / 2
    grid <- grid[sapply(grid, function(k) sum(x < k) >= 15 && sum(x > k) >= 15)]
    largest <- function(y) { l <- profile_fit(cbind(1, x), y, cl)$value
        max(sapply(grid, function(k) 2 * (profile_fit(cbind(1, x, pmax(0, x - k)), y, cl)$value - l))) }
    observed <- largest(y)
    line <- profile_fit(cbind(1, x), y, cl)
    r <- y - cbind(1, x) %*% line$beta
    B <- 40
    hits <- replicate(B, { w <- setNames(sample(c(-1, 1), length(unique(cl)), TRUE), unique(cl)); largest(drop(r) * w[cl]) >= observed })
    p <- (1 + sum(hits)) / (B + 1)
    mine <- ours$value[ours$quantity == "p"]
    must("knee", set, abs(mine - p) < 3.5 * sqrt(max(p * (1 - p), 0.01) / B) + 1 / B, sprintf("p ours %.3f, R %.3f", mine, p))
}
finish()
