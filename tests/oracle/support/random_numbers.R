# The numbers of our seeded generator (MT19937) from R's own.

# Put R's Mersenne-Twister into the state that seed s gives by the 2002 initialisation, and read raw 32-bit numbers.
multiply32 <- function(a, b) ((a * (b %/% 65536)) %% 65536 * 65536 + a * (b %% 65536)) %% 4294967296
xor32 <- function(a, b) bitwXor(a %/% 65536, b %/% 65536) * 65536 + bitwXor(a %% 65536, b %% 65536)
seed_mt <- function(s) {
    mt <- numeric(624)
    mt[1] <- s
    for (i in 1:623) mt[i + 1] <- (multiply32(xor32(mt[i], mt[i] %/% 2^30), 1812433253) + i) %% 4294967296
    signed <- ifelse(mt >= 2147483648, mt - 4294967296, mt)
    RNGkind("Mersenne-Twister", "Inversion", "Rejection")
    signed[signed == -2147483648] <- NA   # R keeps this bit pattern as NA
    assign(".Random.seed", c(10403L, 624L, as.integer(signed)), envir = globalenv())
}
random_numbers <- function(count) round(runif(count) * 4294967296)   # 0 .. 2^32 - 1
