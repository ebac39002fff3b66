# Means, shares, proportions and rates: clubSandwich (CR2, Satterthwaite), survey (Korn and Graubard), stats.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages({ library(clubSandwich); library(survey) })

# CR2 of one coefficient of a least-squares fit: error, df, limits; NA where there is no error to give.
cr2 <- function(fit, cluster, term) {
    if (length(unique(cluster)) < 2 || sum(resid(fit)^2) <= 1e-28 * sum(model.response(model.frame(fit))^2))
        return(c(error = NA, df = NA, lower = NA, upper = NA, p = NA))
    test <- coef_test(fit, vcov = vcovCR(fit, cluster = cluster, type = "CR2"), test = "Satterthwaite")
    row <- test[match(term, names(coef(fit))), ]
    half <- qt(0.975, row$df) * row$SE
    c(error = row$SE, df = row$df, lower = row$beta - half, upper = row$beta + half,
      p = 2 * pt(-abs(row$beta / row$SE), row$df))
}

interval <- function(prefix, group, value, e) rbind(
    expect(paste0(prefix, "standard_error"), group, value = e[["error"]]), expect(paste0(prefix, "df"), group, value = e[["df"]]),
    expect(paste0(prefix, "lower"), group, value = e[["lower"]], scale = max(abs(value), e[["error"]], na.rm = TRUE)),
    expect(paste0(prefix, "upper"), group, value = e[["upper"]], scale = max(abs(value), e[["error"]], na.rm = TRUE)))

for (set in data_sets(200, c(kinds, "constant"))) {
    start(set)
    n <- sample(c(1:4, 8, 20, 60), 1)
    d <- data.frame(y = random_values(n, set$kind), g = random_groups(n, sample(1:3, 1)), patient = random_clusters(n))
    clustered <- runif(1) < 0.75
    ours <- if (clustered) reckon("mean", d, "--value", "y", "--by", "g", "--cluster", "patient")
            else reckon("mean", d, "--value", "y", "--by", "g")
    if (!clustered) d$patient <- seq_len(n)
    rows <- NULL
    for (g in unique(d$g)) {
        s <- d[d$g == g, ]
        m <- mean(s$y)
        rows <- rbind(rows, expect("estimate", g, value = m, scale = max(abs(s$y)) * 1e-9),
                      interval("", g, m, cr2(lm(y ~ 1, s), s$patient, "(Intercept)")))
    }
    if (length(unique(d$g)) == 2) {
        fit <- lm(y ~ g, d)
        e <- cr2(fit, d$patient, names(coef(fit))[2])
        # a group decided by one cluster has no error of its own to see
        if (min(tapply(d$patient, d$g, function(p) length(unique(p)))) < 2) e[] <- NA
        rows <- rbind(rows, interval("difference_", "", max(abs(d$y)) * 1e-6, e))
    }
    compare("mean", set, ours, rows)
}

for (set in data_sets(200, c("some", "rare", "common", "none", "all"), first = 301L)) {
    start(set)
    n <- sample(c(1:4, 8, 20, 60, 150), 1)
    patient <- random_clusters(n)
    p <- switch(set$kind, some = 0.4, rare = 0.06, common = 0.9, none = 0, all = 1)
    d <- data.frame(y = as.integer(clustered_values(patient, 0.5) < qnorm(p)), g = random_groups(n, sample(1:3, 1)), patient = patient)
    clustered <- runif(1) < 0.75
    ours <- if (clustered) reckon("share", d, "--value", "y", "--by", "g", "--cluster", "patient")
            else reckon("share", d, "--value", "y", "--by", "g")
    if (!clustered) d$patient <- seq_len(n)
    rows <- NULL
    for (g in unique(d$g)) {
        s <- d[d$g == g, ]
        m <- mean(s$y)
        clusters <- length(unique(s$patient))
        rows <- rbind(rows, expect("estimate", g, value = m))
        if (m == 0 || m == 1) {
            exact <- binom.test(m * clusters, clusters)$conf.int
            rows <- rbind(rows, expect("lower", g, value = exact[1]), expect("upper", g, value = exact[2]),
                          expect("standard_error", g, value = NA), expect("exact_on_clusters", g, value = 1))
            next
        }
        e <- cr2(lm(y ~ 1, s), s$patient, "(Intercept)")
        rows <- rbind(rows, expect("exact_on_clusters", g, value = 0))
        if (clusters < 2) {
            rows <- rbind(rows, expect(c("lower", "upper", "design_error"), g, value = NA))
            next
        }
        design <- svydesign(ids = ~patient, weights = ~1, data = s)
        between <- tapply(s$y - m, s$patient, sum)
        if (max(abs(between)) < 1e-12) {            # patients with equal shares: as many as rows
            limits <- binom.test(sum(s$y), nrow(s))$conf.int
        } else {
            rows <- rbind(rows, expect("standard_error", g, value = e[["error"]]), expect("df", g, value = e[["df"]]),
                          expect("design_error", g, value = SE(svymean(~y, design))), expect("design_df", g, value = degf(design)))
            limits <- if (clustered) attr(svyciprop(~y, design, method = "beta"), "ci") else binom.test(sum(s$y), nrow(s))$conf.int
        }
        rows <- rbind(rows, expect("lower", g, value = limits[1]), expect("upper", g, value = limits[2]))
    }
    shares <- tapply(d$y, d$g, mean)
    if (length(shares) == 2 && all(shares > 0 & shares < 1) && min(tapply(d$patient, d$g, function(p) length(unique(p)))) > 1) {
        fit <- lm(y ~ g, d)
        sums <- tapply(resid(fit), paste(d$patient, d$g), sum)
        e <- cr2(fit, d$patient, names(coef(fit))[2])
        if (max(abs(sums)) > 1e-12)
            rows <- rbind(rows, expect("difference", value = shares[[2]] - shares[[1]], scale = 1),
                          interval("difference_", "", 1, e), expect("difference_p", value = e[["p"]]))
    }
    compare("share", set, ours, rows)
}

for (set in data_sets(150, c("small", "large", "ends"), first = 601L)) {
    start(set)
    n <- switch(set$kind, small = sample(1:40, 6, TRUE), large = round(10^runif(6, 2, 9)), ends = sample(1:1000, 6))
    x <- switch(set$kind, small = rbinom(6, n, runif(6)), large = round(n * runif(6)), ends = ifelse(runif(6) < 0.5, 0, n))
    ours <- reckon("proportion", data.frame(x = x, n = n), "--count", "x", "--total", "n")
    g <- as.character(1:6)
    z <- qnorm(0.975)
    half <- z * sqrt(z^2 + 4 * x * (1 - x / n))
    low <- ifelse(x == 0, 0, qbeta(0.025, x, n - x + 1))
    high <- ifelse(x == n, 1, qbeta(0.975, x + 1, n - x))
    compare("proportion", set, ours, rbind(
        expect("estimate", g, value = x / n), expect("exact_lower", g, value = low), expect("exact_upper", g, value = high),
        expect("wilson_lower", g, value = ifelse(x == 0, 0, (2 * x + z^2 - half) / 2 / (n + z^2)), scale = 1e-6),
        expect("wilson_upper", g, value = ifelse(x == n, 1, (2 * x + z^2 + half) / 2 / (n + z^2)))))
    exposure <- 10^runif(6, -9, 9)
    ours <- reckon("rate", data.frame(x = x, e = exposure), "--count", "x", "--exposure", "e")
    compare("rate", set, ours, rbind(
        expect("estimate", g, value = x / exposure), expect("exact_lower", g, value = ifelse(x == 0, 0, qgamma(0.025, x)) / exposure),
        expect("exact_upper", g, value = qgamma(0.975, x + 1) / exposure)))
}
finish()
