# Random intercepts: dense matrices by definition, the optimum of lme4 refined by Newton steps with exact derivatives;
# lmer and lmerTest themselves, whose optimiser and numerical Hessian are looser, must agree to 1e-5 and 1e-3.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages({ library(lme4); library(lmerTest) })

# REML deviance at ratios theta with its gradient and Hessian, profiled or in (log s^2, theta); zz: list of Z Z'.
reml <- function(theta, y, x, zz) {
    n <- length(y)
    p <- ncol(x)
    v <- diag(n)
    for (k in seq_along(zz)) v <- v + theta[k] * zz[[k]]
    vi <- chol2inv(chol(v))
    a <- crossprod(x, vi %*% x)
    ai <- chol2inv(chol(a))
    P <- vi - vi %*% x %*% ai %*% t(x) %*% vi
    py <- P %*% y
    rss <- sum(y * py)
    df <- n - p
    pz <- lapply(zz, function(z) P %*% z)
    g1 <- vapply(pz, function(m) sum(diag(m)), 0)
    r1 <- vapply(zz, function(z) -sum(py * (z %*% py)), 0)
    k <- length(zz)
    h <- r2 <- matrix(0, k, k)
    for (i in seq_len(k)) for (j in seq_len(k)) {
        h[i, j] <- -sum(pz[[i]] * t(pz[[j]]))
        r2[i, j] <- 2 * sum((zz[[i]] %*% py) * (P %*% (zz[[j]] %*% py)))
    }
    s2 <- rss / df
    full <- rbind(c(df, -r1 / s2), cbind(-r1 / s2, h + r2 / s2))
    list(deviance = as.numeric(determinant(v)$modulus + determinant(a)$modulus) + df * (1 + log(2 * pi * s2)),
         gradient = g1 + df * r1 / rss, hessian = h + df * (r2 / rss - outer(r1, r1) / rss^2), full = full, s2 = s2,
         beta = as.vector(ai %*% t(x) %*% vi %*% y), ai = ai, vix = vi %*% x)
}

# Newton steps from a start over the ratios above 0, and which ratios are at 0.
refine <- function(theta, y, x, zz) {
    theta[theta < 1e-7] <- 0
    for (round in 1:60) {
        m <- reml(theta, y, x, zz)
        free <- theta > 0 | m$gradient < 0
        if (!any(free)) break
        # on the scale of log(theta + small), where the deviance is closest to a parabola
        scale <- theta + 1e-3
        g <- (m$gradient * scale)[free]
        h <- (m$hessian * outer(scale, scale))[free, free, drop = FALSE] + diag(g, sum(free))
        positive <- all(eigen(h, symmetric = TRUE)$values > 0)
        step <- if (positive) -solve(h, g) else -g / (1 + sqrt(sum(g^2)))
        step <- pmax(-1, pmin(1, step))
        new <- theta
        new[free] <- pmax(0, theta[free] + scale[free] * expm1(step))
        if (max(abs(new - theta) / (theta + 1e-12)) < 1e-13) break
        theta <- new
    }
    theta
}

judge <- function(theta, y, x, zz) {
    m <- reml(theta, y, x, zz)
    active <- which(theta > 0)
    hessian <- m$full[c(1, 1 + active), c(1, 1 + active), drop = FALSE]
    out <- sapply(seq_len(ncol(x)), function(j) {
        c <- m$vix %*% m$ai[, j]
        f <- m$s2 * m$ai[j, j]
        gradient <- c(f, vapply(zz[active], function(z) m$s2 * sum(c * (z %*% c)), 0))
        c(sqrt(f), f^2 / sum(gradient * solve(hessian, gradient)))
    })
    list(beta = m$beta, error = out[1, ], df = out[2, ], reml = m$deviance, s2 = m$s2)
}

worst_criterion <- 0
boundaries <- 0
for (set in data_sets(220, c("plain", "huge", "tiny", "offset", "heaped", "ties"))) {
    start(set)
    two <- set$seed %% 3 == 0
    n <- sample(c(12, 24, 40, 70), 1)
    d <- data.frame(patient = random_clusters(n, max(4, n %/% 3)), a = rnorm(n), g = random_groups(n, 2))
    d$unit <- paste0("u", sample(3, n, TRUE))
    within <- paste(d$patient, d$unit)
    icc <- sample(c(0, 0.1, 0.4, 0.8), 1)
    y <- sqrt(icc) * rnorm(n)[match(d$patient, d$patient)] + 0.3 * d$a + rnorm(n) * sqrt(1 - icc)
    if (two) y <- y + sample(c(0, 0.7), 1) * rnorm(n)[match(within, within)]
    d$y <- switch(set$kind, huge = 1e9 * y, tiny = 1e-9 * y, offset = 1e4 + y, heaped = round(2 * y) / 2, ties = round(y), y)
    if (!any(duplicated(d$patient)) || length(unique(d$patient)) < 2 || sd(d$y) == 0) next
    if (two && (!any(duplicated(within)) || length(unique(within)) == length(unique(d$patient)))) next
    x <- model.matrix(~ a + g, d)
    if (qr(x)$rank < ncol(x)) next
    unit <- sd(d$y)
    scaled <- d
    scaled$y <- (d$y - mean(d$y)) / unit                       # lmer is happiest there
    control <- lmerControl(check.conv.singular = "ignore", optCtrl = list(xtol_abs = 1e-10, ftol_abs = 1e-12))
    form <- if (two) y ~ a + g + (1 | patient) + (1 | patient:unit) else y ~ a + g + (1 | patient)
    fit <- suppressWarnings(suppressMessages(lmerTest::lmer(form, scaled, control = control)))
    parts <- as.data.frame(VarCorr(fit))
    zz <- list(outer(d$patient, d$patient, "==") + 0)
    ratio <- parts$vcov[match("patient", parts$grp)] / sigma(fit)^2
    if (two) {
        zz[[2]] <- outer(within, within, "==") + 0
        ratio <- c(ratio, parts$vcov[match("patient:unit", parts$grp)] / sigma(fit)^2)
    }
    # other starts too: lme4 may stop at a lower maximum
    starts <- c(list(ratio), if (two) list(c(0, 0.5), c(0.5, 0), c(1, 1), c(0, 0)) else list(0, 0.3, 3))
    ends <- lapply(starts, refine, scaled$y, x, zz)
    deviance <- vapply(ends, function(t) reml(t, scaled$y, x, zz)$deviance, 0)
    theta <- ends[[which(deviance < min(deviance) + 1e-9)[1]]]
    best <- reml(theta, scaled$y, x, zz)
    edge <- theta == 0 & abs(best$gradient) < 1e-6             # a slope of 0 at the bound: either answer is right
    if (any(edge) || any(theta > 1e6) || any(theta > 0 & theta < 1e-6)) next
    boundaries <- boundaries + any(theta == 0)
    e <- judge(theta, scaled$y, x, zz)
    beta <- e$beta * unit + c(mean(d$y), 0, 0)
    error <- e$error * unit
    terms <- c("intercept", "a", "g=L2")
    t <- beta / error
    half <- qt(0.975, e$df) * error
    sw <- sqrt(e$s2) * unit
    rows <- rbind(
        expect("coefficient", terms, value = beta, scale = error), expect("standard_error", terms, value = error),
        expect("df", terms, value = e$df), expect("statistic", terms, value = t, scale = 1),
        expect("p", terms, value = 2 * pt(-abs(t), e$df)), expect("lower", terms, value = beta - half, scale = error),
        expect("upper", terms, value = beta + half, scale = error), expect("sd_within", value = sw),
        expect("sd_between", value = sw * sqrt(theta[1])), expect("icc", value = theta[1] / (1 + sum(theta))),
        expect("reml", value = e$reml + 2 * (n - 3) * log(unit), scale = n),
        expect("design_effect", value = 1 + (sum(table(d$patient)^2) / n - 1) * theta[1] / (1 + sum(theta))))
    if (two) rows <- rbind(rows, expect("sd_unit", value = sw * sqrt(theta[2])), expect("icc_unit", value = sum(theta) / (1 + sum(theta))))
    arguments <- list("mixed", d, "--response", "y", "--numbers", "a", "--categories", "g", "--cluster", "patient")
    ours <- do.call(reckon, c(arguments, if (two) c("--unit", "unit")))
    compare("mixed", set, ours, rows, if (two) "two levels" else "")
    must("mixed", set, min(deviance) <= REMLcrit(fit) + 1e-7, "no worse optimum than lmer's")
    if (REMLcrit(fit) < min(deviance) + 1e-8 && all(theta > 1e-3)) {
        loose <- suppressWarnings(suppressMessages(coef(summary(fit))))
        must("mixed", set, all(abs(loose[, "Std. Error"] / e$error - 1) < 1e-3), "standard errors of lmer")
        must("mixed", set, all(abs(loose[, "df"] / e$df - 1) < 1e-2), "degrees of freedom of lmerTest")
    }
}
must("mixed", set, boundaries > 10, "variances at their bound were among the sets")
finish()
