/* Small published data sets of the survival family, and how numbers are compared. */
#ifndef TESTS_SUPPORT_SURVIVAL_DATA_H
#define TESTS_SUPPORT_SURVIVAL_DATA_H

#include "ridgetally/stats/follow_up.h"

/* Weeks of remission of 21 pairs of leukaemia patients (Freireich et al. 1963 Blood 21:699-716; Gehan 1965
 * Biometrika 52:203-223): rows 0..20 were given 6-MP, rows 21..41 placebo. */
enum { GEHAN_ARM = 21, GEHAN_ROWS = 42 };
extern const double gehan_time[GEHAN_ROWS];
extern const int gehan_event[GEHAN_ROWS];
extern const size_t gehan_group[GEHAN_ROWS]; /* 0: 6-MP, 1: placebo */
extern const size_t gehan_pair[GEHAN_ROWS];

/* The rows of one arm, without clusters. */
struct rt_follow_up gehan_arm(size_t group);

/* Ten rows with two causes, made for this test so that the sums can be followed by hand. */
enum { TWO_CAUSES_ROWS = 10 };
extern const double two_causes_time[TWO_CAUSES_ROWS];
extern const int two_causes_event[TWO_CAUSES_ROWS];

/* Fail unless value is within `relative` of expected (absolute when expected is 0). */
void assert_near(double value, double expected, double relative);

/* Fail unless value is within half a unit of the last of `decimals` printed decimals. */
void assert_printed(double value, double printed, int decimals);

#endif
