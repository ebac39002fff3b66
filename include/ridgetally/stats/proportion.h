/*
 * A share of independent trials and its intervals.
 */
#ifndef RIDGETALLY_STATS_PROPORTION_H
#define RIDGETALLY_STATS_PROPORTION_H

struct rt_limits {
    double lower, upper;
};

/* Wilson's score interval, without continuity correction, for count of total:
 * (2 n p + z^2 -+ z sqrt(z^2 + 4 n p (1 - p))) / (2 (n + z^2)).
 * Source: Wilson (1927), J. Am. Stat. Assoc. 22:209-212; Newcombe (1998), Stat. Med. 17:857-872, method 3.
 * NaN unless 0 <= count <= total and total > 0. Neither needs to be whole. */
struct rt_limits rt_wilson_limits(double count, double total);

/* Exact limits: beta(count, total - count + 1) at 0.025, beta(count + 1, total - count) at 0.975; 0 for no
 * event and 1 for all. Source: Clopper & Pearson (1934), Biometrika 26:404-413; Newcombe's method 5. With a
 * count and total that are not whole this is the interval of Korn & Graubard (1998). */
struct rt_limits rt_exact_limits(double count, double total);

#endif
