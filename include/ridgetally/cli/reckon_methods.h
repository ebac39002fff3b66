/*
 * The methods of `reckon`, in the order of the manual: one line RT_METHOD(name) each, in the place of its
 * comment. Included more than once, with RT_METHOD defined by the includer; hence no guard.
 */

RT_METHOD(survival)
RT_METHOD(between)
RT_METHOD(life_table)
RT_METHOD(logrank)
RT_METHOD(hazard)
RT_METHOD(incidence)

RT_METHOD(mean)
RT_METHOD(share)
RT_METHOD(quantile)
RT_METHOD(proportion)
RT_METHOD(rate)
RT_METHOD(mixed)
RT_METHOD(linear)
RT_METHOD(firth)
RT_METHOD(limited)

RT_METHOD(rank)
RT_METHOD(ordered)
RT_METHOD(shift)
RT_METHOD(agreement)
RT_METHOD(repeat)
RT_METHOD(kappa)

RT_METHOD(control)
RT_METHOD(cusum)
RT_METHOD(ewma)
RT_METHOD(funnel)
RT_METHOD(curve)
RT_METHOD(knee)

RT_METHOD(resample)

RT_METHOD(precision)

RT_METHOD(adjust)
RT_METHOD(welch)
RT_METHOD(two_shares)
RT_METHOD(from_limits)
RT_METHOD(from_statistic)
