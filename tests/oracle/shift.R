# Mann-Whitney and the Hodges-Lehmann shift against wilcox.test, and clustered forms by brute force over all differences.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "pairs.R"))

# Limits of rank k from either end of the sorted differences.
at_rank <- function(d, k) if (is.na(k) || k < 1) c(NA, NA) else sort(d)[c(k, length(d) + 1 - k)]

for (set in data_sets(220, c("untied", "ties", "heaped", "huge", "tiny", "few", "offset", "constant"))) {
    start(set)
    n <- switch(set$kind, few = sample(0:6, 1), untied = sample(c(8, 20, 60, 110), 1), sample(5:120, 1))
    g <- if (n == 0) character(0) else random_groups(n, 2, fill = set$kind != "few")
    y <- if (set$kind == "constant") rep(7, n) else random_values(n, switch(set$kind, untied = "plain", few = "plain", set$kind))
    ours <- reckon("shift", data.frame(y = y, g = g), "--response", "y", "--group", "g")
    lv <- sort(unique(g))
    a <- y[g == lv[1]]; b <- if (length(lv) > 1) y[g == lv[2]] else numeric(0)
    rows <- expect(c("n1", "n2"), value = c(length(a), length(b)))
    if (length(a) == 0 || length(b) == 0) {
        rows <- rbind(rows, expect(c("mann_whitney", "p", "shift", "shift_lower", "shift_upper", "superiority"), value = NA))
    } else {
        d <- as.vector(outer(b, a, "-"))
        w <- suppressWarnings(wilcox.test(b, a))
        exact <- !anyDuplicated(y) && length(a) < 50 && length(b) < 50
        p <- if (length(unique(y)) > 1) w$p.value else NA
        k <- if (exact) qwilcox(0.025, length(b), length(a))
             else floor(length(d) / 2 - qnorm(0.975) * sqrt(length(d) * (length(y) + 1) / 12))
        limits <- at_rank(d, if (is.na(p)) NA else k)
        if (exact && k >= 1) stopifnot(all.equal(limits, as.vector(wilcox.test(b, a, conf.int = TRUE)$conf.int)))
        scale <- max(diff(range(y)), 1e-12)
        rows <- rbind(rows, expect("mann_whitney", value = w$statistic), expect("p", value = p),
            expect("shift", value = median(d), scale = scale * 1e-3), expect("shift_lower", value = limits[1], scale = scale * 1e-3),
            expect("shift_upper", value = limits[2], scale = scale * 1e-3), expect("superiority", value = w$statistic / length(d)))
    }
    compare("shift", set, ours, rows)
}

# Half scores of all pairs (second x first) at a shift; caps as in the definition.
pair_halves <- function(b, bc, a, ac, shift) {
    d <- outer(b, a, "-")
    s <- sign(d - shift)
    s[bc, ac] <- 0
    s[bc, !ac] <- ifelse(d[bc, !ac] >= shift, 1, 0)
    s[!bc, ac] <- ifelse(d[!bc, ac] <= shift, -1, 0)
    (1 + s) / 2
}

# The shift at which the score lost reaches `lost`, searched over all differences.
lost_at <- function(b, bc, a, ac, lost) {
    d <- outer(b, a, "-")
    weight <- outer(bc, ac, function(x, y) ifelse(x & y, 0, ifelse(x | y, 1, 2)))
    start <- sum(outer(bc, ac, function(x, y) y))
    o <- order(d)
    total <- start + cumsum(weight[o])
    if (start >= lost) return(NA)
    k <- which(total >= lost - 1e-9)[1]
    if (is.na(k)) NA else d[o][k]
}

for (set in data_sets(150, c("plain", "ties", "capped", "small", "separate", "one patient", "lone rows"), first = 1001L)) {
    start(set)
    n <- if (set$kind == "small") sample(3:8, 1) else sample(10:50, 1)
    patient <- switch(set$kind, "one patient" = rep("p", n), "lone rows" = paste0("p", seq_len(n)), random_clusters(n))
    g <- random_groups(n, 2)
    y <- clustered_values(patient) + (g == "L2") * switch(set$kind, separate = 20, 0.5)
    y <- switch(set$kind, ties = round(y), "lone rows" = y, round(y, 1))
    capped <- set$kind == "capped" & runif(n) < 0.25
    ours <- reckon("shift", data.frame(y = as_limits(y, capped), g = g, patient = patient), "--response", "y", "--group", "g",
                   "--cluster", "patient")
    half_at <- function(shift) function(rows) {
        i <- rows[g[rows] == "L2"]; j <- rows[g[rows] == "L1"]
        if (length(i) == 0 || length(j) == 0) return(NA)
        mean(pair_halves(y[i], capped[i], y[j], capped[j], shift))
    }
    second <- g == "L2"
    at <- function(lost) lost_at(y[second], capped[second], y[!second], capped[!second], lost)
    pairs <- sum(second) * sum(!second)
    hl <- mean(c(at(pairs), at(pairs + 1)))
    u <- half_at(0)(seq_len(n))
    m <- length(unique(patient))
    e <- jackknife_error(leave_out(half_at(if (is.na(hl)) 0 else hl), patient))
    t <- if (!is.na(e) && e > 0) (u - 0.5) / e else NA
    k <- if (!is.na(e) && e > 0) floor(pairs * (0.5 - qt(0.975, m - 1) * e)) else NA
    limits <- if (is.na(k) || k < 1) c(NA, NA) else c(at(2 * k), at(2 * (pairs + 1 - k)))
    s <- bounded(2 * u - 1, 2 * leave_out(half_at(0), patient) - 1)
    compare("shift", set, ours, label = "clusters", rbind(
        expect("mann_whitney", value = u * pairs), expect("shift", value = hl, scale = 1e-2),
        expect("statistic", value = t, scale = 0.01), expect("df", value = if (is.na(e)) NA else m - 1),
        expect("p", value = 2 * pt(-abs(t), m - 1)), expect("shift_lower", value = limits[1], scale = 1e-2),
        expect("shift_upper", value = limits[2], scale = 1e-2), expect("superiority", value = u),
        expect("superiority_lower", value = (1 + s$lower) / 2, scale = 0.1),
        expect("superiority_upper", value = (1 + s$upper) / 2, scale = 0.1)))
}
finish()
