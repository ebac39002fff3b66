# Restricted cubic splines against lm() and clubSandwich (CR2, Satterthwaite). The fit at a place is the intercept of a model
# whose terms are all shifted to 0 there.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressMessages(library(clubSandwich))

terms_of <- function(u, K) {
    k <- length(K)
    p <- function(v) pmax(v, 0)^3
    sapply(1:(k - 2), function(j) (p(u - K[j]) - p(u - K[k - 1]) * (K[k] - K[j]) / (K[k] - K[k - 1]) +
        p(u - K[k]) * (K[k - 1] - K[j]) / (K[k] - K[k - 1])) / (K[k] - K[1])^2)
}
shares <- list(`3` = c(0.1, 0.5, 0.9), `4` = c(0.05, 0.35, 0.65, 0.95), `5` = c(0.05, 0.275, 0.5, 0.725, 0.95))

for (set in data_sets(160, c("plain", "huge", "tiny", "offset", "skewed", "ties", "heaped"))) {
    start(set)
    clustered <- runif(1) < 0.6
    n <- sample(c(12, 30, 80, 130), 1)
    x <- random_values(n, set$kind)
    cl <- random_clusters(n)
    s <- (x - mean(x)) / sd(x)
    y <- sin(1.5 * s) + 0.5 * clustered_values(cl, 0.4)
    wanted <- sample(c(0, 3, 4, 5), 1)
    K <- unname(quantile(x, shares[[as.character(if (wanted == 0) (if (n < 100) 3 else 4) else wanted)]]))
    if (any(diff(K) <= 0)) next
    unit <- K[length(K)] - K[1]
    u <- (x - K[1]) / unit
    V <- (K - K[1]) / unit
    at <- sort(sample(unique(x), 4))
    d <- data.frame(y = y, x = x, cl = cl)
    arguments <- c("--response", "y", "--x", "x", "--at", paste(sprintf("%.17g", at), collapse = ","))
    if (wanted > 0) arguments <- c(arguments, "--knots", wanted)
    if (clustered) arguments <- c(arguments, "--cluster", "cl")
    ours <- do.call(reckon, c(list("curve", d), as.list(arguments)))
    if (clustered && any(grepl("alone decides", attr(ours, "messages")))) {
        must("curve", set, length(unique(cl)) < 8, "an error left undefined with many clusters")   # R gives one on 1 df
        next
    }
    rows <- expect("knot", at = seq_along(K), value = K)
    for (a in at) {
        v <- (a - K[1]) / unit
        B <- cbind(u - v, sweep(cbind(terms_of(u, V)), 2, rbind(terms_of(v, V))))
        fit <- lm(y ~ B)
        if (any(is.na(coef(fit)))) next
        if (clustered) {
            test <- coef_test(fit, vcov = "CR2", cluster = cl, test = "Satterthwaite", coefs = 1)
            error <- test$SE
            df <- if (is.null(test$df_Satt)) test$df else test$df_Satt
        } else {
            error <- sqrt(vcov(fit)[1, 1])
            df <- fit$df.residual
        }
        half <- qt(0.975, df) * error
        f <- unname(coef(fit)[1])
        rows <- rbind(rows, expect("smooth", at = a, value = f, scale = error), expect("standard_error", at = a, value = error),
                      expect("lower", at = a, value = f - half, scale = half), expect("upper", at = a, value = f + half, scale = half))
    }
    rows <- rbind(rows, expect("sigma", value = summary(fit)$sigma), expect("r_squared", value = summary(fit)$r.squared))
    if (!clustered) {
        a <- anova(lm(y ~ u), fit)
        rows <- rbind(rows, expect("nonlinearity", value = a$F[2]), expect("nonlinearity_p", value = a$`Pr(>F)`[2]))
    } else if (length(K) == 3) {
        test <- coef_test(fit, vcov = "CR2", cluster = cl, test = "Satterthwaite", coefs = 3)
        rows <- rbind(rows, expect("nonlinearity", value = test$tstat^2),
                      expect("nonlinearity_p", value = if (is.null(test$p_Satt)) test$p else test$p_Satt))
    }
    compare("curve", set, ours, rows)
}
finish()
