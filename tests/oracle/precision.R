# Numbers of cases against R: t and Wilson intervals, power.t.test and power.prop.test with the design effect.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

smallest <- function(ok) { high <- 1; while (!ok(high)) { high <- high * 2; if (high > 1e9) return(NA) }
    low <- high / 2; if (high == 1) return(1)
    while (high - low > 1) { middle <- floor((low + high) / 2); if (ok(middle)) high <- middle else low <- middle }
    high }

for (set in data_sets(300, c("mean", "share", "mean difference", "share difference"))) {
    start(set)
    m <- sample(c(1, 1, 1.5, 2.3, 4), 1)
    icc <- if (m == 1) 0 else runif(1)
    deff <- 1 + (m - 1) * icc
    groups <- sample(1:2, 1)
    power <- runif(1, 0.5, 0.97)
    clusters <- function(n) ceiling(n / m * (1 - 1e-15))
    sd <- 10^runif(1, -3, 3)
    share <- sample(c(0, 1, runif(4)), 1)
    arguments <- c("--per-cluster", m, "--icc", sprintf("%.17g", icc))
    if (set$kind == "mean") {
        width <- sd * 10^runif(1, -2, 0.7)
        ok <- function(n) clusters(n) > 1 && 2 * qt(0.975, clusters(n) - 1) * sd * sqrt(deff / n) <= width
        arguments <- c(arguments, "--sd", sprintf("%.17g", sd), "--width", sprintf("%.17g", width))
    } else if (set$kind == "share") {
        width <- runif(1, 0.005, 0.9)
        z <- qnorm(0.975)
        ok <- function(n) { e <- n / deff; 2 * z * sqrt(share * (1 - share) / e + z^2 / (4 * e^2)) / (1 + z^2 / e) <= width }
        arguments <- c(arguments, "--share", sprintf("%.17g", share), "--width", sprintf("%.17g", width))
    } else if (set$kind == "mean difference") {
        difference <- sd * 10^runif(1, -1.5, 0.6) * sample(c(-1, 1), 1)
        ok <- function(n) { df <- groups * (clusters(n) - 1); df >= 1 &&
            pt(qt(0.975, df), df, abs(difference) / (sd * sqrt(groups * deff / n)), lower.tail = FALSE) >= power }
        arguments <- c(arguments, "--sd", sprintf("%.17g", sd), "--difference", sprintf("%.17g", difference), "--power",
                       sprintf("%.17g", power), "--groups", groups)
    } else {
        other <- runif(1)
        ok <- function(n) {
            e <- n / deff
            mean <- if (groups == 1) share else (share + other) / 2
            bottom <- sqrt(other * (1 - other) + if (groups == 1) 0 else share * (1 - share))
            pnorm((sqrt(e) * abs(other - share) - qnorm(0.975) * sqrt(groups * mean * (1 - mean))) / bottom) >= power
        }
        arguments <- c(arguments, "--share", sprintf("%.17g", share), paste0("--difference=", sprintf("%.17g", other - share)), "--power",
                       sprintf("%.17g", power), "--groups", groups)
    }
    n <- smallest(ok)
    ours <- do.call(reckon, c(list("precision", data.frame(x = 1)), as.list(arguments)))
    compare("precision", set, ours, rbind(expect("cases", value = n), expect("clusters", value = clusters(n))))
}

# against the functions statisticians use
set <- list(seed = 0, kind = "power.t.test")
for (d in c(0.2, 0.5, 1, 2)) for (power in c(0.8, 0.9)) {
    n <- ceiling(power.t.test(delta = d, sd = 1, power = power, tol = 1e-9)$n)
    ours <- reckon("precision", data.frame(x = 1), "--sd", 1, "--difference", d, "--power", power)
    compare("precision", set, ours, expect("cases", value = n))
    n <- ceiling(power.prop.test(p1 = 0.05, p2 = 0.05 + d / 5, power = power, tol = 1e-9)$n)
    ours <- reckon("precision", data.frame(x = 1), "--share", 0.05, "--difference", d / 5, "--power", power)
    compare("precision", set, ours, expect("cases", value = n))
}
finish()
