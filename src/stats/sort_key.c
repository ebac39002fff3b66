#include "sort_key.h"

#include <string.h>

enum { BYTES = 8, VALUES = 256, FEW = 48 /* are put in place faster one by one */ };

static const uint64_t sign = (uint64_t)1 << 63;

uint64_t rt_sort_bits(double number)
{
    const double positive_zero = number + 0.0;
    uint64_t bits;
    memcpy(&bits, &positive_zero, sizeof bits);
    return (bits & sign) != 0 ? ~bits : bits | sign;
}

double rt_sort_number(uint64_t bits)
{
    const uint64_t own = (bits & sign) != 0 ? bits & ~sign : ~bits;
    double number;
    memcpy(&number, &own, sizeof number);
    return number;
}

static void insert_one_by_one(struct rt_sort_key *keys, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        const struct rt_sort_key key = keys[i];
        size_t place = i;
        for (; place > 0 && keys[place - 1].bits > key.bits; place--)
            keys[place] = keys[place - 1];
        keys[place] = key;
    }
}

static size_t byte_of(uint64_t bits, int byte)
{
    return (size_t)(bits >> (8 * byte)) & (VALUES - 1);
}

/* Counts of a byte become where its keys begin. */
static void set_starts(size_t *counts)
{
    size_t before = 0;
    for (size_t value = 0; value < VALUES; value++) {
        const size_t count = counts[value];
        counts[value] = before;
        before += count;
    }
}

void rt_sort_keys(struct rt_sort_key *keys, struct rt_sort_key *spare, size_t n)
{
    size_t counts[BYTES][VALUES] = {{0}};
    struct rt_sort_key *from = keys, *to = spare;
    if (n <= FEW) {
        insert_one_by_one(keys, n);
        return;
    }
    for (size_t i = 0; i < n; i++)
        for (int byte = 0; byte < BYTES; byte++)
            counts[byte][byte_of(keys[i].bits, byte)]++;
    for (int byte = 0; byte < BYTES; byte++) {
        if (counts[byte][byte_of(keys[0].bits, byte)] == n)
            continue;
        set_starts(counts[byte]);
        for (size_t i = 0; i < n; i++)
            to[counts[byte][byte_of(from[i].bits, byte)]++] = from[i];
        struct rt_sort_key *swap = from;
        from = to;
        to = swap;
    }
    if (from != keys)
        memcpy(keys, from, n * sizeof *keys);
}
