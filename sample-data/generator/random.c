#include "random.h"

#include <math.h>

static uint64_t splitmix64(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static uint64_t rotate_left(uint64_t x, int bits)
{
    return (x << bits) | (x >> (64 - bits));
}

void rt_sample_random_start(struct rt_sample_random *random, uint64_t seed, uint64_t stream)
{
    uint64_t state = stream;
    state = seed ^ splitmix64(&state);
    for (size_t i = 0; i < 4; i++)
        random->state[i] = splitmix64(&state);
}

uint64_t rt_sample_random_bits(struct rt_sample_random *random)
{
    uint64_t *s = random->state;
    uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate_left(s[3], 45);
    return result;
}

double rt_sample_uniform(struct rt_sample_random *random)
{
    return (double)(rt_sample_random_bits(random) >> 11) * 0x1.0p-53;
}

double rt_sample_between(struct rt_sample_random *random, double low, double high)
{
    return low + (high - low) * rt_sample_uniform(random);
}

bool rt_sample_chance(struct rt_sample_random *random, double probability)
{
    return rt_sample_uniform(random) < probability;
}

int rt_sample_integer(struct rt_sample_random *random, int low, int high)
{
    return low + (int)floor(rt_sample_uniform(random) * (double)(high - low + 1));
}

double rt_sample_normal(struct rt_sample_random *random, double mean, double sd)
{
    double u = 0, v = 0, square = 0;
    do {
        u = rt_sample_between(random, -1, 1);
        v = rt_sample_between(random, -1, 1);
        square = u * u + v * v;
    } while (square >= 1 || square <= 0);
    return mean + sd * u * sqrt(-2 * rt_sample_log(square) / square);
}

size_t rt_sample_choose(struct rt_sample_random *random, const double *weights, size_t count)
{
    double total = 0;
    for (size_t i = 0; i < count; i++)
        total += weights[i];
    double left = rt_sample_uniform(random) * total;
    for (size_t i = 0; i + 1 < count; i++) {
        left -= weights[i];
        if (left < 0)
            return i;
    }
    return count - 1;
}

double rt_sample_waiting_time(struct rt_sample_random *random, double rate)
{
    double uniform = 1 - rt_sample_uniform(random); /* (0, 1] */
    return rate > 0 ? -rt_sample_log(uniform) / rate : 1e9;
}

/* log x = k log 2 + 2 artanh((m - 1) / (m + 1)) with m within [0.7, 1.42): 14 terms reach double precision.
 */
double rt_sample_log(double x)
{
    const double log_2 = 0.693147180559945309417232;
    int k = 0;
    while (x >= 1.4142135623730951) {
        x *= 0.5;
        k++;
    }
    while (x < 0.70710678118654757) {
        x *= 2;
        k--;
    }
    double z = (x - 1) / (x + 1);
    double z2 = z * z;
    double sum = 0;
    for (int term = 27; term >= 1; term -= 2)
        sum = sum * z2 + 1.0 / term;
    return k * log_2 + 2 * z * sum;
}

/* exp x = 2^k exp(r) with |r| <= log(2) / 2, the Taylor series to the 16th power. */
double rt_sample_exp(double x)
{
    const double log_2 = 0.693147180559945309417232;
    double k = floor(x / log_2 + 0.5);
    double r = x - k * log_2;
    double sum = 1;
    for (int power = 16; power >= 1; power--)
        sum = 1 + sum * r / power;
    for (; k > 0; k--)
        sum *= 2;
    for (; k < 0; k++)
        sum *= 0.5;
    return sum;
}

double rt_sample_logistic(double x)
{
    return 1 / (1 + rt_sample_exp(-x));
}

double rt_sample_round(double x, double step)
{
    /* divide by the whole number 1 / step, so that 0.1 steps give the double nearest to each tenth */
    double per_unit = floor(1 / step + 0.5);
    if (step >= 1)
        return floor(x / step + 0.5) * step;
    double rounded = floor(x * per_unit + 0.5) / per_unit;
    return rounded == 0 ? 0 : rounded; /* no negative zero */
}
