# Welch's t from summaries against t.test on data made to have them; Hedges' g by log-gamma.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
made <- function(n, mean, sd) mean + sd * as.vector(scale(rnorm(n)))
for (set in data_sets(120, c("plain", "huge", "tiny", "two cases", "one spread", "large"))) {
    start(set)
    n <- switch(set$kind, "two cases" = c(2, 2), large = sample(1000:3000, 2), sample(2:80, 2))
    size <- switch(set$kind, huge = 1e9, tiny = 1e-9, 1)
    m <- size * rnorm(2, 0, 2); s <- size * runif(2, 0.2, 3)
    if (set$kind == "one spread") s[1] <- 0
    ours <- do.call(reckon, c(list("welch", data.frame(none = 1)), as.list(c("--n1", n[1], "--mean1", sprintf("%.17g", m[1]), "--sd1",
        sprintf("%.17g", s[1]), "--n2", n[2], "--mean2", sprintf("%.17g", m[2]), "--sd2", sprintf("%.17g", s[2])))))
    a <- if (s[1] > 0) made(n[1], m[1], s[1]) else rep(m[1], n[1])
    w <- t.test(a, made(n[2], m[2], s[2]))
    df <- sum(n) - 2
    d <- (m[1] - m[2]) / sqrt(sum((n - 1) * s^2) / df)
    J <- exp(lgamma(df / 2) - lgamma((df - 1) / 2)) / sqrt(df / 2)
    e <- J * sqrt(sum(n) / prod(n) + d^2 / (2 * sum(n)))
    scale <- 1e-3 * max(abs(m), s)
    compare("welch", set, ours, rbind(expect("difference", value = m[1] - m[2], scale = scale), expect("standard_error", value = w$stderr),
        expect("statistic", value = w$statistic, scale = 1e-2), expect("df", value = w$parameter), expect("p", value = w$p.value),
        expect("lower", value = w$conf.int[1], scale = scale), expect("upper", value = w$conf.int[2], scale = scale),
        expect("hedges_g", value = J * d, scale = 1e-2), expect("hedges_g_lower", value = J * d - qnorm(0.975) * e, scale = 1e-2),
        expect("hedges_g_upper", value = J * d + qnorm(0.975) * e, scale = 1e-2)))
}
finish()
