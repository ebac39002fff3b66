# Penalised logistic regression by its definition: Newton steps on the modified score with a numerical Jacobian (scoring
# where that is not negative definite), limits by root finding on the profile. The design effect from its formula.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

penalised <- function(b, y, x) {
    eta <- as.vector(x %*% b)
    pi <- plogis(eta)
    w <- pi * (1 - pi)
    info <- crossprod(x, w * x)
    inverse <- solve(info, tol = 1e-200)
    h <- w * rowSums((x %*% inverse) * x)
    rest <- y - pi + h * (0.5 - pi)
    list(value = sum(ifelse(y == 1, plogis(eta, log.p = TRUE), plogis(-eta, log.p = TRUE))) +
             as.numeric(determinant(info)$modulus) / 2,
         score = as.vector(crossprod(x, rest)), info = info, inverse = inverse, rest = rest, pi = pi)
}

# Minus the Jacobian of the score in the free coefficients, by central differences.
curvature <- function(b, y, x, free) {
    size <- 1e-5 / apply(abs(x), 2, max)
    jacobian <- sapply(free, function(j) {
        up <- down <- b
        up[j] <- b[j] + size[j]
        down[j] <- b[j] - size[j]
        tryCatch((penalised(up, y, x)$score - penalised(down, y, x)$score)[free] / (2 * size[j]), error = function(e) free * NA)
    })
    jacobian <- matrix(jacobian, length(free))
    -(jacobian + t(jacobian)) / 2
}

# Maximise over the coefficients not in `held`, from b: scoring with halving, to a score of nothing.
maximise <- function(b, y, x, held = integer(0)) {
    free <- setdiff(seq_along(b), held)
    now <- penalised(b, y, x)
    for (round in 1:60) {
        if (length(free) == 0) break
        curve <- curvature(b, y, x, free)
        if (!all(is.finite(curve)) || any(eigen(curve, TRUE, only.values = TRUE)$values <= 0))
            curve <- now$info[free, free, drop = FALSE]
        step <- solve(curve, now$score[free], tol = 1e-200)
        move <- max(abs(x[, free, drop = FALSE] %*% step))
        if (move > 2) step <- step * 2 / move
        part <- 1
        repeat {
            new <- b
            new[free] <- b[free] + part * step
            next_one <- tryCatch(penalised(new, y, x), error = function(e) NULL)
            if (!is.null(next_one) && is.finite(next_one$value) && next_one$value >= now$value - 1e-13 * (1 + abs(now$value))) break
            part <- part / 2
            if (part < 1e-6) return(list(b = b, at = now))
        }
        b <- new
        now <- next_one
        if (max(abs(step)) * part < 1e-14 * (1 + max(abs(b)))) break
    }
    list(b = b, at = now)
}

# The maximum with one coefficient held, best of several starts: along the tangent of the profile from points of it, and
# (widely) with the others at 0 and far out to all sides. With few events there are several local maxima.
held_maximum <- function(value, j, points, y, x, widely = TRUE) {
    starts <- lapply(points, function(p) p$b + p$at$inverse[, j] / p$at$inverse[j, j] * (value - p$b[j]))
    if (widely) {
        far <- 4 / apply(abs(x), 2, max)
        signs <- as.matrix(expand.grid(rep(list(c(-1, 0, 1)), ncol(x) - 1)))
        starts <- c(starts, lapply(seq_len(nrow(signs)), function(i) { b <- 0 * far; b[-j] <- signs[i, ] * far[-j]; b }))
    }
    best <- NULL
    for (b in starts) {
        fit <- tryCatch(maximise(replace(b, j, value), y, x, j), error = function(e) NULL)
        if (!is.null(fit) && (is.null(best) || fit$at$value > best$at$value)) best <- fit
    }
    best
}

# The limit on one side: outward step by step, then the root in the last step.
limit_of <- function(j, full, y, x, side, allowed, widely) {
    at <- full$b[j]
    inner <- outer <- full
    step <- side * sqrt(full$at$inverse[j, j])
    repeat {
        outer <- held_maximum(at + step, j, list(full, inner), y, x, widely)
        if (full$at$value - outer$at$value > allowed) break
        at <- at + step
        inner <- outer
        step <- 1.3 * step
    }
    uniroot(function(v) full$at$value - held_maximum(v, j, list(full, inner, outer), y, x, FALSE)$at$value - allowed,
            sort(c(at, at + step)), tol = 1e-12, maxiter = 200)$root
}

# Limits where following the profile from its top and searching widely agree: there is one maximum in the others. Else the
# profile has several branches and which crossing is met first depends on the steps; those limits are counted, not compared.
limit_rows <- function(j, full, y, x, allowed, term, error) {
    rows <- NULL
    for (side in c(-1, 1)) {
        near <- limit_of(j, full, y, x, side, allowed, FALSE)
        wide <- limit_of(j, full, y, x, side, allowed, TRUE)
        branched <<- branched + (abs(near - wide) > 1e-7 * error)
        limits <<- limits + 1
        if (abs(near - wide) <= 1e-7 * error) rows <- rbind(rows, expect(if (side < 0) "lower" else "upper", term, value = wide, scale = error))
    }
    rows
}
branched <- limits <- 0

ratio <- function(at, x, j, cluster) {
    sums <- rowsum(as.vector(x %*% at$inverse[, j]) * at$rest, cluster)
    g <- nrow(sums)
    g / (g - 1) * sum(sums^2) / at$inverse[j, j]
}

for (set in data_sets(24, c("plain", "ties", "separated", "none", "rare", "heaped"))) {
    start(set)
    n <- sample(c(8, 14, 24), 1)
    d <- data.frame(a = random_values(n, if (set$kind %in% c("ties", "heaped")) set$kind else "plain"),
                    g = random_groups(n, 2), patient = random_clusters(n))
    latent <- clustered_values(d$patient, 0.4) + 0.5 * d$a
    d$y <- as.integer(switch(set$kind, separated = d$a > 0, none = FALSE, rare = latent > 1.6, latent > 0))
    x <- model.matrix(if (length(unique(d$g)) > 1) ~ a + g else ~ a, d)
    if (qr(x)$rank < ncol(x)) next
    clustered <- runif(1) < 0.5 && length(unique(d$patient)) > 4
    full <- maximise(rep(0, ncol(x)), d$y, x)
    terms <- c("intercept", "a", "g=L2")[seq_len(ncol(x))]
    rows <- expect("penalised_log_likelihood", value = full$at$value, scale = 1)
    for (j in seq_len(ncol(x))) {
        null <- held_maximum(0, j, list(full), d$y, x)
        effect <- if (clustered) max(1, ratio(full$at, x, j, d$patient), ratio(null$at, x, j, d$patient)) else 1
        statistic <- 2 * (full$at$value - null$at$value) / effect
        error <- sqrt(full$at$inverse[j, j])
        allowed <- effect * qchisq(0.95, 1) / 2
        rows <- rbind(rows, expect("coefficient", terms[j], value = full$b[j], scale = error),
            expect("standard_error", terms[j], value = error),
            # p and its statistic come from a difference of log likelihoods: 1e-13 of them is what can be seen
            expect("statistic", terms[j], value = statistic, scale = 1e-4),
            if (statistic > 1e-4) expect("p", terms[j], value = pchisq(statistic, 1, lower.tail = FALSE)),
            limit_rows(j, full, d$y, x, allowed, terms[j], error))
        if (clustered) rows <- rbind(rows, expect("design_effect", terms[j], value = effect))
    }
    arguments <- list("firth", d, "--response", "y", "--numbers", "a")
    if (ncol(x) > 2) arguments <- c(arguments, "--categories", "g")
    ours <- do.call(reckon, c(arguments, if (clustered) c("--cluster", "patient")))
    compare("firth", set, ours, rows)
}

must("firth", set, branched < limits / 10, sprintf("%d of %d limits stand on a branched profile", branched, limits))

# brglm2, where it is installed: coefficients and errors.
if (requireNamespace("brglm2", quietly = TRUE)) {
    for (set in data_sets(30, "plain", first = 501L)) {
        start(set)
        d <- data.frame(a = rnorm(40), b = rnorm(40))
        d$y <- as.integer(d$a + rnorm(40) > 0.5)
        fit <- glm(y ~ a + b, binomial, d, method = brglm2::brglmFit, type = "AS_mean", epsilon = 1e-12, maxit = 500)
        ours <- reckon("firth", d, "--response", "y", "--numbers", "a,b")
        compare("firth", set, ours, rbind(
            expect("coefficient", c("intercept", "a", "b"), value = coef(fit), scale = sqrt(diag(vcov(fit)))),
            expect("standard_error", c("intercept", "a", "b"), value = sqrt(diag(vcov(fit))))))
    }
}
finish()
