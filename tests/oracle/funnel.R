# Funnel limits against R's binomial distribution: Spiegelhalter (2005), appendix A.1.1, and its over-dispersion.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

limit_at <- function(p, n, target) {
    if (p < 0.5) {
        r <- qbinom(p, n, target)
        beyond <- pbinom(r, n, target) - p
    } else {
        r <- qbinom(1 - p, n, target, lower.tail = FALSE)
        beyond <- (1 - p) - pbinom(r, n, target, lower.tail = FALSE)
    }
    (r - beyond / dbinom(r, n, target)) / n
}

for (set in data_sets(120, c("small", "large", "rare"))) {
    start(set)
    k <- sample(1:8, 1)
    total <- switch(set$kind, small = sample(0:12, k, TRUE), large = sample(1e3:1e6, k, TRUE), rare = sample(20:400, k, TRUE))
    target <- switch(set$kind, small = runif(1, 0.05, 0.95), large = runif(1, 0.01, 0.9), rare = 10^runif(1, -6, -2))
    count <- rbinom(k, total, min(1, 1.5 * target))
    d <- data.frame(count = count, total = total)
    ours <- reckon("funnel", d, "--count", "count", "--total", "total", "--target", sprintf("%.17g", target))
    g <- as.character(seq_len(k))
    lim <- sapply(c(0.025, 0.975, 0.001, 0.999), function(p) sapply(total, function(n) if (n == 0) NA else limit_at(p, n, target)))
    lim <- matrix(lim, nrow = k)
    share <- ifelse(total == 0, NA, count / total)
    signal <- (share < lim[, 1] | share > lim[, 2]) + (share < lim[, 3] | share > lim[, 4])
    compare("funnel", set, ours, rbind(
        expect("estimate", g, value = share), expect("lower95", g, value = lim[, 1], scale = 1 / pmax(total, 1)),
        expect("upper95", g, value = lim[, 2], scale = 1 / pmax(total, 1)),
        expect("lower998", g, value = lim[, 3], scale = 1 / pmax(total, 1)),
        expect("upper998", g, value = lim[, 4], scale = 1 / pmax(total, 1)),
        expect("signal", g, value = signal)))
}

# Clusters: design effect of the pooled share, limits stretched by its root.
for (set in data_sets(40, c("few", "many"), first = 1001L)) {
    start(set)
    n <- if (set$kind == "few") 12 else 80
    d <- data.frame(patient = random_clusters(n), unit = random_groups(n, 3), count = 0, total = sample(1:4, n, TRUE))
    p <- plogis(-1 + 2 * clustered_values(d$patient, 0.6))
    d$count <- rbinom(n, d$total, p)
    share <- sum(d$count) / sum(d$total)
    if (share == 0 || share == 1) next
    e <- tapply(d$count - share * d$total, d$patient, sum)
    m <- length(e)
    effect <- sum(e^2) * m / (m - 1) / (share * (1 - share) * sum(d$total))
    stretch <- sqrt(max(1, effect))
    ours <- reckon("funnel", d, "--count", "count", "--total", "total", "--by", "unit", "--cluster", "patient")
    N <- tapply(d$total, d$unit, sum)
    rows <- expect("design_effect", value = effect)
    for (q in list(c("lower95", 0.025), c("upper95", 0.975), c("lower998", 0.001), c("upper998", 0.999)))
        rows <- rbind(rows, expect(q[1], names(N), value = share + stretch *
            (sapply(N, function(n) limit_at(as.numeric(q[2]), n, share)) - share), scale = 1 / N))
    compare("funnel", set, ours, rows)
}
finish()
