# Least squares against lm, CR2 and Satterthwaite df against clubSandwich, on models with numbers, categories, products,
# aliased columns and empty classes.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages(library(clubSandwich))

# Terms as reckon names them, in the coding of R's model matrix.
our_terms <- function(names) {
    one <- function(part) sub("^\\(Intercept\\)$", "intercept", sub("^([gh])(.+)$", "\\1=\\2", part))
    vapply(strsplit(names, ":", fixed = TRUE), function(parts) paste(one(parts), collapse = " x "), "")
}

# CR2 error and Satterthwaite df of each coefficient by the definition, on dense n by n matrices in an orthonormal basis:
# clubSandwich inverts X'X, which loses all digits for columns of 1e9 beside ones. `seen` is the share of the
# working-model variance that CR2 sees: below 1 where a cluster alone decides part of a coefficient.
dense_cr2 <- function(x, residuals, cluster) {
    scale <- 2^round(log2(sqrt(colSums(x^2))))
    decomposition <- qr(sweep(x, 2, scale, "/"), tol = 0)
    q <- qr.Q(decomposition)
    inverse <- backsolve(qr.R(decomposition), diag(ncol(x)))[order(decomposition$pivot), , drop = FALSE] / scale
    rest <- diag(nrow(x)) - q %*% t(q)
    g <- array(0, c(nrow(x), length(unique(cluster)), ncol(x)))
    meat <- 0
    for (k in seq_along(unique(cluster))) {
        i <- which(cluster == unique(cluster)[k])
        e <- eigen(rest[i, i, drop = FALSE], symmetric = TRUE)
        a <- e$vectors %*% (ifelse(e$values > 1e-12, e$values^-0.5, 0) * t(e$vectors))
        half <- a %*% q[i, , drop = FALSE] %*% t(inverse)
        g[, k, ] <- rest[, i, drop = FALSE] %*% half
        meat <- meat + as.vector(t(half) %*% residuals[i])^2
    }
    df <- apply(g, 3, function(m) { p <- crossprod(m); sum(diag(p))^2 / sum(p^2) })
    list(error = sqrt(meat), df = df, seen = apply(g^2, 3, sum) / rowSums(inverse^2))
}

checked <- 0
for (set in data_sets(300)) {
    start(set)
    n <- sample(c(3:7, 12, 25, 60, 120), 1)
    d <- data.frame(y = random_values(n, set$kind), a = random_values(n, sample(kinds, 1)), b = random_values(n),
                    g = random_groups(n, sample(2:4, 1), fill = FALSE), patient = random_clusters(n))
    d$c <- switch(sample(3, 1), 2 * d$b - 7, rep(4.25, n), rnorm(n))            # often aliased
    d$y <- d$y + d$b * sd(d$y) + clustered_values(d$patient) * sd(d$y)
    model <- sample(5, 1)
    form <- list(y ~ a + b, y ~ a + b + c + g, y ~ b + g + b:g, y ~ a + b + a:b, y ~ b + c)[[model]]
    options <- list(c("--numbers", "a,b"), c("--numbers", "a,b,c", "--categories", "g"),
                    c("--numbers", "b", "--categories", "g", "--products", "b x g"),
                    c("--numbers", "a,b", "--products", "a x b"), c("--numbers", "b,c"))[[model]]
    if (model %in% c(2, 3) && length(unique(d$g)) < 2) next
    clustered <- runif(1) < 0.75
    fit <- lm(form, d, tol = 1e-11)
    kept <- !is.na(coef(fit))
    terms <- our_terms(names(coef(fit)))
    s <- suppressWarnings(summary(fit))
    df <- fit$df.residual
    b <- coef(fit)
    exact <- df == 0 || s$sigma^2 < 1e-26 * mean(d$y^2)
    error <- rep(NA_real_, length(b))
    if (!exact) error[kept] <- coef(s)[, 2]
    size <- ifelse(is.na(error), abs(b), error)
    judged <- error
    df_of <- ifelse(is.na(error), NA, df)
    rows <- rbind(expect("coefficient", terms, value = b, scale = pmax(size, 1e-9 * max(abs(b), na.rm = TRUE))),
                  expect("standard_error", terms, value = error))
    if (clustered) {
        judged[] <- df_of[] <- NA
        if (!exact && length(unique(d$patient)) > 1) {
            x <- model.matrix(fit)[, kept, drop = FALSE]
            cr2 <- dense_cr2(x, resid(fit), d$patient)
            if (any(cr2$seen < 1 - 1e-7 & cr2$seen > 1 - 1e-5)) next                 # on the edge of either answer
            judged[kept] <- ifelse(cr2$seen < 1 - 1e-6, NA, cr2$error)
            df_of[kept] <- ifelse(cr2$seen < 1 - 1e-6, NA, cr2$df)
            if (kappa(x, exact = TRUE) < 1e4) {
                test <- coef_test(fit, vcov = vcovCR(fit, cluster = d$patient, type = "CR2"), test = "Satterthwaite")
                checked <<- checked + 1
                off <- abs(c(test$SE / cr2$error, test$df / cr2$df) - 1)[rep(cr2$seen > 1 - 1e-7, 2)]
                must("linear", set, all(off < limit), "clubSandwich agrees with the dense definition")
            }
        }
        rows <- rbind(rows, expect("robust_error", terms, value = judged))
    }
    half <- qt(0.975, df_of) * judged
    t <- b / judged
    t[is.na(judged)] <- NA
    rows <- rbind(rows, expect("df", terms, value = df_of), expect("statistic", terms, value = t, scale = 1e-3),
                  expect("p", terms, value = 2 * pt(-abs(t), df_of)),
                  expect("lower", terms, value = b - half, scale = judged), expect("upper", terms, value = b + half, scale = judged))
    rows$scale[is.na(rows$scale)] <- 0
    if (!exact) rows <- rbind(rows, expect("sigma", value = s$sigma),
                              expect("r_squared", value = s$r.squared, scale = 1e-3))
    arguments <- c(options, if (clustered) c("--cluster", "patient"))
    ours <- do.call(reckon, c(list("linear", d, "--response", "y"), as.list(arguments)))
    compare("linear", set, ours, rows)
}

must("linear", set, checked > 100, "clubSandwich was asked often enough")

# Polynomials of rising degree: ill-conditioned, compared with orthogonal polynomials where conditioning is no matter.
for (set in data_sets(40, c("plain", "offset"), first = 401L)) {
    start(set)
    n <- 40
    x <- if (set$kind == "plain") runif(n, -1, 1) else 5 + runif(n)
    degree <- sample(2:6, 1)
    d <- data.frame(sapply(seq_len(degree), function(k) x^k))
    names(d) <- paste0("x", seq_len(degree))
    d$y <- sin(3 * x) + rnorm(n) / 10
    smooth <- summary(lm(d$y ~ poly(x, degree)))
    ours <- reckon("linear", d, "--response", "y", "--numbers", paste(names(d)[seq_len(degree)], collapse = ","))
    compare("linear", set, ours, rbind(expect("sigma", value = smooth$sigma), expect("r_squared", value = smooth$r.squared)))
}
finish()
