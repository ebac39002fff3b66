# Intraclass correlations from aov() mean squares, and the error of one reading.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

three <- function(name, v) expect(paste0(name, c("", "_lower", "_upper")), value = v, scale = 0.1)

forms <- function(n, k, b, w, wdf, j, e) {
    sb <- function(r) k * r / (1 + (k - 1) * r)
    one <- function(error, df) {
        f <- if (error > 0) b / error else NaN
        fl <- f / qf(0.975, n - 1, df); fu <- f * qf(0.975, df, n - 1)
        list(c((b - error) / (b + (k - 1) * error), (fl - 1) / (fl + k - 1), (fu - 1) / (fu + k - 1)),
             c((b - error) / b, 1 - 1 / fl, 1 - 1 / fu))
    }
    m1 <- one(w, wdf)
    out <- rbind(three("icc_1_1", m1[[1]]), three("icc_1_k", m1[[2]]))
    if (is.na(j)) return(rbind(out, three("icc_2_1", rep(NA, 3)), three("icc_2_k", rep(NA, 3)), three("icc_3_1", rep(NA, 3)),
                               three("icc_3_k", rep(NA, 3))))
    m3 <- one(e, (n - 1) * (k - 1))
    i <- (b - e) / (b + (k - 1) * e + k * (j - e) / n)
    # McGraw & Wong (1996), table 7: df of the estimated mean square of ICC(A,1)
    aa <- k * i / (n * (1 - i)); bb <- 1 + k * i * (n - 1) / (n * (1 - i))
    v <- (aa * j + bb * e)^2 / ((aa * j)^2 / (k - 1) + (bb * e)^2 / ((n - 1) * (k - 1)))
    lo <- up <- NA
    if (is.finite(v)) {
        f1 <- qf(0.975, n - 1, v); f2 <- qf(0.975, v, n - 1)
        lo <- n * (b - f1 * e) / (f1 * (k * j + (k * n - k - n) * e) + n * b)
        up <- n * (f2 * b - e) / (k * j + (k * n - k - n) * e + n * f2 * b)
    }
    rbind(out, three("icc_3_1", m3[[1]]), three("icc_3_k", m3[[2]]), three("icc_2_1", c(i, lo, up)),
          three("icc_2_k", c((b - e) / (b + (j - e) / n), sb(lo), sb(up))))
}

for (set in data_sets(180, c("plain", "close", "heaped", "offset", "tiny", "huge", "unbalanced", "missing"))) {
    start(set)
    n <- sample(2:25, 1); k <- sample(2:5, 1)
    d <- expand.grid(subject = paste0("s", seq_len(n)), reader = paste0("r", seq_len(k)))
    truth <- rnorm(n); shift <- rnorm(k, 0, 0.3)
    d$value <- truth[as.integer(d$subject)] + shift[as.integer(d$reader)] + rnorm(n * k, 0, if (set$kind == "close") 0.01 else 0.7)
    d$value <- switch(set$kind, heaped = round(2 * d$value) / 2, offset = 1e4 + d$value, tiny = 1e-9 * d$value, huge = 1e9 * d$value, d$value)
    if (set$kind == "unbalanced") d <- d[sample(nrow(d), max(3, round(0.7 * nrow(d)))), ]
    if (set$kind == "missing") d <- d[-1, ]
    d <- d[sample(nrow(d)), ]
    ours <- reckon("repeat", data.frame(s = as.character(d$subject), r = as.character(d$reader), v = d$value),
                   "--subject", "s", "--reader", "r", "--value", "v")
    s <- factor(d$subject); r <- factor(d$reader); N <- nrow(d); m <- as.vector(table(s)); ns <- length(m)
    if (ns < 2 || N == ns || length(unique(d$value)) == 1) next
    y <- d$value - mean(d$value)
    one <- anova(lm(y ~ s)); b <- one[1, 3]; w <- one[2, 3]
    k0 <- (N - sum(m^2) / N) / (ns - 1)
    complete <- all(table(s, r) == 1) && nlevels(r) > 1
    j <- e <- NA
    if (complete) { two <- suppressWarnings(anova(lm(y ~ s + r))); j <- two[2, 3]; e <- two[3, 3] }
    scale <- 1e-3 * sqrt(w)
    pairs <- tapply(d$value, s, function(v) if (length(v) == 2) diff(v) else NA)
    dahlberg <- if (any(m > 2)) NA else sqrt(sum(pairs^2, na.rm = TRUE) / (2 * sum(m == 2)))
    within <- sqrt(w) * c(1, sqrt((N - ns) / qchisq(c(0.975, 0.025), N - ns)))
    if (set$kind == "heaped" && (w == 0 || (complete && e < 1e-20))) next
    compare("repeat", set, ours, rbind(forms(ns, k0, b, w, N - ns, j, e),
        expect("dahlberg", value = dahlberg), expect(c("within_sd", "within_sd_lower", "within_sd_upper"), value = within),
        expect("detectable_change", value = 1.96 * sqrt(2) * within[1]),
        expect("reader_sd", value = if (complete) sqrt(max(0, (j - e) / ns)) else NA, scale = scale)))
}

# Nothing to compare, no spread, no repeats: words, no numbers.
for (set in data_sets(4, c("empty", "one subject", "once", "equal"), first = 1001L)) {
    start(set)
    d <- switch(set$kind, empty = data.frame(s = character(0), r = character(0), v = numeric(0)),
                "one subject" = data.frame(s = "a", r = c("1", "2"), v = c(1, 2)),
                once = data.frame(s = c("a", "b", "c"), r = "1", v = c(1, 2, 4)),
                equal = data.frame(s = rep(c("a", "b"), each = 2), r = c("1", "2"), v = 3))
    ours <- reckon("repeat", d, "--subject", "s", "--reader", "r", "--value", "v")
    must("repeat", set, attr(ours, "status") == 0 && all(is.na(ours$value[grepl("^icc", ours$quantity)])) &&
         any(grepl("icc_1_1: ", attr(ours, "messages"))), "undefined correlations say why")
}
finish()
