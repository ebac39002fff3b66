# Fourfold tables and printed intervals against R.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

wilson <- function(x, n) { z <- qnorm(0.975); p <- x / n
    c(2 * n * p + z^2 - z * sqrt(z^2 + 4 * n * p * (1 - p)), 2 * n * p + z^2 + z * sqrt(z^2 + 4 * n * p * (1 - p))) / (2 * (n + z^2)) }

for (set in data_sets(300, c("small", "medium", "rare", "none", "all"))) {
    start(set)
    n <- switch(set$kind, small = sample(1:8, 2, TRUE), medium = sample(20:400, 2), rare = sample(200:5000, 2), sample(1:60, 2, TRUE))
    x <- switch(set$kind, rare = rbinom(2, n, c(0.005, 0.02)), none = c(0, sample(0:1, 1)), all = n - c(0, sample(0:1, 1)),
                rbinom(2, n, runif(2)))
    d <- data.frame(a = x[1], b = n[1], c = x[2], e = n[2])
    ours <- reckon("two-shares", d, "--count1", "a", "--total1", "b", "--count2", "c", "--total2", "e")
    r <- n - x
    p <- x / n
    w1 <- wilson(x[1], n[1]); w2 <- wilson(x[2], n[2])
    diff <- p[1] - p[2]
    z <- qnorm(0.975)
    rr <- if (all(x > 0)) p[1] / p[2] else NA
    rre <- sqrt(r[1] / x[1] / n[1] + r[2] / x[2] / n[2])
    if (!is.na(rr) && rre == 0) rre <- NA
    or <- if (all(x > 0, r > 0)) x[1] / r[1] / (x[2] / r[2]) else NA
    ore <- sqrt(sum(1 / x) + sum(1 / r))
    m <- matrix(c(x, r), 2)
    defined <- sum(x) > 0 && sum(r) > 0
    chi <- if (defined) suppressWarnings(chisq.test(m, correct = FALSE)) else list(statistic = NA, p.value = NA)
    compare("two-shares", set, ours, rbind(
        expect("difference", "1", value = diff), expect("difference_lower", "1", value = diff - sqrt((p[1] - w1[1])^2 + (w2[2] - p[2])^2)),
        expect("difference_upper", "1", value = diff + sqrt((w1[2] - p[1])^2 + (p[2] - w2[1])^2)),
        expect("risk_ratio", "1", value = rr), expect("risk_ratio_lower", "1", value = rr * exp(-z * rre)),
        expect("risk_ratio_upper", "1", value = rr * exp(z * rre)), expect("odds_ratio", "1", value = or),
        expect("odds_ratio_lower", "1", value = or * exp(-z * ore)), expect("odds_ratio_upper", "1", value = or * exp(z * ore)),
        expect("chi_square", "1", value = unname(chi$statistic), scale = 1e-9), expect("chi_square_p", "1", value = chi$p.value),
        expect("exact_p", "1", value = fisher.test(m)$p.value)))

    ratio <- runif(1) < 0.5
    e <- if (ratio) exp(rnorm(1)) else rnorm(1)
    s <- 10^runif(1, -2, 0.5)
    lim <- if (ratio) e * exp(c(-1, 1) * z * s) else e + c(-1, 1) * z * s
    call <- list("from-limits", data.frame(e = e, l = lim[1], u = lim[2]), "--estimate", "e", "--lower", "l", "--upper", "u")
    ours <- do.call(reckon, c(call, if (ratio) "--ratio"))
    v <- if (ratio) log(e) else e
    compare("from-limits", set, ours, rbind(expect("standard_error", "1", value = s), expect("statistic", "1", value = v / s),
        expect("p", "1", value = 2 * pnorm(-abs(v / s))), expect("asymmetry", "1", value = 0, scale = 1)))
}

for (set in data_sets(120, c("z", "t", "f", "chi-square", "r", "limits"), first = 401L)) {
    start(set)
    df <- sample(c(1, 2, 5, 20.5, 300), 1)
    df2 <- sample(c(1, 3, 40), 1)
    v <- if (set$kind == "r") runif(1, -1, 1) else abs(rnorm(1, 0, 4))
    if (set$kind == "limits") {
        half <- qt(0.975, df) * 0.7
        ours <- reckon("from-limits", data.frame(e = v, l = v - half, u = v + half), "--estimate", "e", "--lower", "l", "--upper", "u",
                       "--df", df)
        compare("from-limits", set, ours, rbind(expect("standard_error", "1", value = 0.7), expect("p", "1", value = 2 * pt(-v / 0.7, df))))
        next
    }
    ours <- reckon("from-statistic", data.frame(v = v), paste0("--", set$kind), "v", "--df", df, "--df2", df2)
    statistic <- if (set$kind == "r") v * sqrt(df / (1 - v^2)) else v
    p <- switch(set$kind, z = 2 * pnorm(-v), t = 2 * pt(-v, df), f = pf(v, df, df2, lower.tail = FALSE),
                `chi-square` = pchisq(v, df, lower.tail = FALSE), r = 2 * pt(-abs(statistic), df))
    compare("from-statistic", set, ours, rbind(expect("statistic", "1", value = statistic), expect("p", "1", value = p)))
}
finish()
