/*
 * Numbers in tests: cmocka compares single precision only.
 */
#ifndef RIDGETALLY_TESTS_NEAR_H
#define RIDGETALLY_TESTS_NEAR_H

/* Fail the test, naming both numbers, unless |value - expected| <= tolerance. NaN is near nothing. */
#define assert_near(value, expected, tolerance) assert_near_at(value, expected, tolerance, __FILE__, __LINE__)

void assert_near_at(double value, double expected, double tolerance, const char *file, int line);

#endif
