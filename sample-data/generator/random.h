/*
 * Random numbers of the sample practice: the same on every machine.
 *
 * xoshiro256** by D. Blackman and S. Vigna, seeded through splitmix64 (both public domain, from their
 * published descriptions). Everything on top uses only IEEE additions, multiplications, divisions, square
 * roots and floor, which are exact or correctly rounded everywhere; the logarithm and the exponential are our
 * own series, so that no C library's last digit can change a committed file.
 */
#ifndef RIDGETALLY_SAMPLE_RANDOM_H
#define RIDGETALLY_SAMPLE_RANDOM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct rt_sample_random {
    uint64_t state[4];
};

/* Start stream number `stream` of a seed. Streams of one seed are unrelated, so that one patient's records do
 * not move when another patient is added. */
void rt_sample_random_start(struct rt_sample_random *random, uint64_t seed, uint64_t stream);

uint64_t rt_sample_random_bits(struct rt_sample_random *random);

/* Uniform on [0, 1) with 53 bits. */
double rt_sample_uniform(struct rt_sample_random *random);

/* Uniform on [low, high). */
double rt_sample_between(struct rt_sample_random *random, double low, double high);

/* True with this probability (outside 0..1: never or always). One draw in every case. */
bool rt_sample_chance(struct rt_sample_random *random, double probability);

/* A whole number in low..high, both included. */
int rt_sample_integer(struct rt_sample_random *random, int low, int high);

/* Normal by the polar method (G. Marsaglia and T. Bray 1964). */
double rt_sample_normal(struct rt_sample_random *random, double mean, double sd);

/* Index of one of `count` classes with the given weights (not negative, not all zero). */
size_t rt_sample_choose(struct rt_sample_random *random, const double *weights, size_t count);

/* Waiting time of a constant rate, by inversion; a rate of 0 or less gives 1e9. */
double rt_sample_waiting_time(struct rt_sample_random *random, double rate);

/* Natural logarithm of a positive finite number, and the exponential of a number within -700..700. */
double rt_sample_log(double x);
double rt_sample_exp(double x);

/* 1 / (1 + exp(-x)) */
double rt_sample_logistic(double x);

/* Nearest multiple of step (0.1, 0.5, 1, 5), halves upwards. */
double rt_sample_round(double x, double step);

#endif
