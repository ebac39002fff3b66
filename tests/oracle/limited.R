# Normal regression with readings at a limit: survreg(dist = "gaussian"), plain and with cluster(), run to full digits.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages(library(survival))

fits <- 0
for (set in data_sets(260, c("plain", "huge", "tiny", "offset", "heaped", "ties", "none"))) {
    start(set)
    n <- sample(c(3, 5, 10, 30, 80), 1)
    d <- data.frame(a = rnorm(n), g = random_groups(n, sample(1:3, 1), fill = FALSE), patient = random_clusters(n))
    y <- 1 + d$a + clustered_values(d$patient)
    y <- switch(set$kind, huge = 1e9 * y, tiny = 1e-9 * y, offset = 1e4 + y, heaped = round(2 * y) / 2, ties = round(y), y)
    cap <- if (set$kind == "none") Inf else quantile(y, sample(c(0.5, 0.7, 0.9), 1))
    capped <- y > cap
    y <- pmin(y, cap)
    d$y <- ifelse(capped, sprintf(">%.17g", y), sprintf("%.17g", y))
    several <- length(unique(d$g)) > 1
    form <- if (several) ~ a + g else ~ a
    x <- model.matrix(form, d)
    clustered <- runif(1) < 0.6 && length(unique(d$patient)) > 1
    arguments <- list("limited", d, "--response", "y", "--numbers", "a")
    if (several) arguments <- c(arguments, "--categories", "g")
    ours <- do.call(reckon, c(arguments, if (clustered) c("--cluster", "patient")))
    # no maximum: a level wholly at its limit, or as many coefficients as full readings
    if (all(capped) || sum(!capped) <= ncol(x) || qr(x[!capped, , drop = FALSE])$rank < ncol(x) || sd(y[!capped]) == 0) {
        must("limited", set, attr(ours, "status") == 0 && !any(grepl("nan|inf", ours$value)), "no maximum is no failure")
        if (all(capped)) must("limited", set, all(is.na(ours$value[ours$quantity == "sigma"])), "all capped has no spread")
        next
    }
    unit <- sd(y)
    s <- d
    s$t <- (y - mean(y)) / unit
    s$status <- 1 - capped
    control <- survreg.control(rel.tolerance = 1e-15, toler.chol = 1e-14, maxiter = 200)
    formula <- if (several) Surv(t, status) ~ a + g else Surv(t, status) ~ a
    fit <- tryCatch(if (clustered) survreg(formula, s, dist = "gaussian", control = control, cluster = patient)
                    else survreg(formula, s, dist = "gaussian", control = control),
                    warning = function(w) NULL, error = function(e) NULL)
    if (is.null(fit) || fit$scale < 1e-6) next                  # runs off, or an exact fit
    fits <- fits + 1
    b <- coef(fit) * unit
    b[1] <- b[1] + mean(y)
    error <- sqrt(diag(vcov(fit)))[seq_along(b)] * unit
    z <- b / error
    terms <- c("intercept", sub("^g", "g=", names(b)[-1]))
    half <- qnorm(0.975) * error
    compare("limited", set, ours, rbind(
        expect("coefficient", terms, value = b, scale = error), expect("standard_error", terms, value = error),
        expect("statistic", terms, value = z, scale = 1), expect("p", terms, value = 2 * pnorm(-abs(z))),
        expect("lower", terms, value = b - half, scale = error), expect("upper", terms, value = b + half, scale = error),
        expect("sigma", value = fit$scale * unit), expect("capped", value = sum(capped)),
        expect("log_likelihood", value = fit$loglik[2] - sum(!capped) * log(unit), scale = n)))
}
must("limited", set, fits > 120, "enough sets have a maximum")
finish()
