# The set of knees that are not rejected, from the definition: the wild bootstrap by whole patients at each place of the grid, every
# replicate fitted anew at every place with the ratio of variances of the best knee, by the full covariance matrix.
source(file.path(Sys.getenv("ORACLE"), "support", "random_numbers.R"))

# Signs of the patients (rows) in each replicate (columns): 32 from a number, lowest bit first.
patient_signs <- function(patients, times, seed) {
    words <- ceiling(patients / 32)
    seed_mt(seed)
    numbers <- matrix(random_numbers(words * times), words)
    bits <- sapply(seq_len(patients) - 1, function(c) (numbers[c %/% 32 + 1, ] %/% 2^(c %% 32)) %% 2)
    2 * t(matrix(bits, times)) - 1
}

# lr: likelihood ratio of each place of the grid against the line; ratio: variance between patients over within, at the best of them.
# Returns kept, and clear: no decision hangs on rounding.
kept_knees <- function(x, y, cl, grid, lr, ratio, times = 999, seed = 1) {
    n <- length(y)
    patient <- match(cl, unique(cl))
    U <- chol(diag(n) + ratio * outer(patient, patient, "=="))
    white <- function(m) backsolve(U, m, transpose = TRUE)
    designs <- lapply(grid, function(k) white(cbind(1, x - mean(x), pmax(0, x - k))))
    fits <- lapply(designs, qr)
    w <- patient_signs(max(patient), times, seed)
    yw <- white(y)
    reached <- function(place, columns, ratio) {
        mean <- qr.fitted(fits[[place]], yw)
        # back to the units of y, signs there, and whitened again
        replicates <- white(drop(crossprod(U, mean)) + drop(crossprod(U, yw - mean)) * w[patient, columns, drop = FALSE])
        rests <- sapply(fits, function(f) colSums(qr.resid(f, replicates)^2))
        n * log(rests[, place] / apply(rests, 1, min)) >= ratio
    }
    first <- seq_len(min(199, times))
    at <- function(place, move) {
        ratio <- max(lr) - lr[place]
        if (ratio <= qchisq(0.95, 1) + move) return(TRUE)
        r <- reached(place, first, ratio + move)
        if (times > 199 && !any(r)) return(FALSE)
        if (times > 199) r <- c(r, reached(place, 200:times, ratio + move))
        (1 + sum(r)) / (times + 1) > 0.05
    }
    kept <- sapply(seq_along(grid), at, move = 0)
    # a ratio on the other side of rounding: only those that are not far off can change
    other <- sapply(c(-1e-6, 1e-6), function(move) sapply(seq_along(grid), at, move = move))
    list(kept = kept, clear = all(other == kept))
}
