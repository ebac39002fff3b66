# Individuals, EWMA and Bernoulli CUSUM charts against their formulas in R.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))

for (set in data_sets(140, c(kinds, "constant"))) {
    start(set)
    n <- sample(c(2, 3, 5, 20, 60), 1)
    x <- random_values(n, set$kind)
    base <- sample(c(0, 2, n), 1)
    b <- if (base == 0) x else x[seq_len(base)]
    d <- data.frame(x = x)
    mr <- mean(abs(diff(b)))
    m <- mean(b)
    lower <- m - 3 * mr / 1.128
    upper <- m + 3 * mr / 1.128
    ours <- reckon("control", d, "--value", "x", "--baseline", base)
    edge <- min(abs(c(x - lower, x - upper))) < 1e-9 * max(abs(x))     # a point on a limit may round either way
    compare("control", set, ours, rbind(
        expect("centre", value = m, scale = mr), expect("moving_range", value = mr), expect("sigma", value = mr / 1.128),
        expect("lower", value = lower, scale = mr), expect("upper", value = upper, scale = mr),
        expect("moving_range_upper", value = 3.267 * mr), expect("range", at = seq_len(n)[-1], value = abs(diff(x))),
        if (!edge) expect("signal", at = seq_len(n), value = as.numeric(x < lower | x > upper))))

    lambda <- sample(c(0.05, 0.2, 0.3, 0.9, 1), 1)
    width <- sample(c(2, 2.7, 3), 1)
    z <- Reduce(function(a, b) lambda * b + (1 - lambda) * a, x, m, accumulate = TRUE)[-1]
    half <- width * mr / 1.128 * sqrt(lambda / (2 - lambda) * (1 - (1 - lambda)^(2 * seq_len(n))))
    ours <- reckon("ewma", d, "--value", "x", "--baseline", base, "--lambda", lambda, "--width", width)
    edge <- min(abs(abs(z - m) - half)) < 1e-9 * max(abs(x))
    compare("ewma", set, ours, rbind(
        expect("ewma", at = seq_len(n), value = z, scale = mr), expect("lower", at = seq_len(n), value = m - half, scale = mr),
        expect("upper", at = seq_len(n), value = m + half, scale = mr),
        if (!edge) expect("signal", at = seq_len(n), value = as.numeric(abs(z - m) > half))))
}

score <- function(y, p, R) ifelse(y == 1, log(R / (1 - p + R * p)), log(1 / (1 - p + R * p)))

for (set in data_sets(120, c("constant", "column", "none", "all"), first = 501L)) {
    start(set)
    n <- sample(c(1, 2, 30, 200), 1)
    p <- if (set$kind == "column") 10^runif(n, -5, -0.3) else rep(runif(1, 0.01, 0.4), n)
    y <- switch(set$kind, none = rep(0, n), all = rep(1, n), rbinom(n, 1, pmin(1, 1.7 * p)))
    R <- sample(c(1.5, 2, 5), 1)
    h <- runif(1, 0.5, 4)
    down <- runif(1) < 0.5
    reset <- runif(1) < 0.5
    w <- score(y, p, if (down) 1 / R else R)
    s <- numeric(n)
    signal <- numeric(n)
    before <- 0
    for (i in seq_len(n)) {
        s[i] <- max(0, before + w[i])
        signal[i] <- as.numeric(s[i] > h)
        before <- if (reset && s[i] > h) 0 else s[i]
    }
    d <- data.frame(y = as.integer(y), p = p)
    arguments <- c("--event", "y", "--p0", if (set$kind == "column") "p" else sprintf("%.17g", p[1]), "--odds-ratio", R,
                   "--limit", sprintf("%.17g", h), "--direction", if (down) "down" else "up", if (reset) "--reset")
    ours <- do.call(reckon, c(list("cusum", d), as.list(arguments)))
    i <- seq_len(n)
    compare("cusum", set, ours, rbind(expect("score", at = i, value = w), expect("cusum", at = i, value = s, scale = abs(w)),
                                      expect("signal", at = i, value = signal)))
}

# Run length of the CUSUM with a constant p0, where one step is exactly k times the other: the Markov chain on the
# multiples 0..j of the small step, the limit halfway between two of them, solved by R's linear algebra.
run_length <- function(p, k, j, event_up) {
    Q <- matrix(0, j + 1, j + 1)
    for (at in 0:j) {
        after_event <- if (event_up) at + k else max(0, at - k)
        after_other <- if (event_up) max(0, at - 1) else at + 1
        if (after_event <= j) Q[at + 1, after_event + 1] <- Q[at + 1, after_event + 1] + p
        if (after_other <= j) Q[at + 1, after_other + 1] <- Q[at + 1, after_other + 1] + 1 - p
    }
    L <- solve(diag(j + 1) - Q, rep(1, j + 1))[1]
    within <- function(n) { v <- c(1, rep(0, j)); for (i in seq_len(n)) v <- v %*% Q; 1 - sum(v) }
    list(length = L, within = within)
}

set <- list(seed = 0, kind = "run length")
for (R in c(1.5, 2, 4)) for (k in c(1, 2, 5, 20)) for (j in c(1, 3, 10, 40)) for (direction in c("up", "down")) {
    up <- direction == "up"
    common <- if (up) R^(1 / (k + 1)) else R^(-1 / (k + 1))      # 1 - p + R p: the small step is its log
    odds <- if (up) R else 1 / R
    p0 <- (common - 1) / (odds - 1)
    h <- (j + 0.5) * abs(log(common))
    theirs <- run_length(p0, k, j, up)
    if (theirs$length > 1e9) next                                # beyond what solve() can tell
    where <- paste(p0, R, h, direction)
    call <- list("cusum", data.frame(y = 0L), "--event", "y", "--p0", sprintf("%.17g", p0), "--odds-ratio", R, "--direction", direction)
    ours <- do.call(reckon, c(call, "--limit", sprintf("%.17g", h)))
    compare("cusum-run", set, ours, expect("run_length", value = theirs$length), label = where)
    # the limit for this run length is the state below h; for this probability of an alarm too
    if (up && j < k) next                                       # any event signals: every limit down to 0 does
    bottom <- j * abs(log(common))
    ours <- do.call(reckon, c(call, "--run-length", sprintf("%.17g", theirs$length * (1 - 1e-9))))
    compare("cusum-run", set, ours, expect("limit", value = bottom), label = where)
    alarm <- theirs$within(60)
    if (alarm > 1e-9 && alarm < 1 - 1e-9) {
        ours <- do.call(reckon, c(call, "--false-alarms", sprintf("%.17g", alarm * (1 + 1e-9)), "--within", 60))
        compare("cusum-run", set, ours, expect("limit", value = bottom), label = paste(where, "alarm"))
    }
}
finish()
