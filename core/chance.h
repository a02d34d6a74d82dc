/* chance: how likely a statistic is to be as large by chance alone.
 *
 * Tails of chi-squared by the incomplete gamma function's series and continued fraction
 * (Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, 6.5.29, 6.5.31, 26.4.2),
 * of Student's t by its finite sums for whole degrees of freedom (26.7.3, 26.7.4).
 */
#ifndef SB_CHANCE_H
#define SB_CHANCE_H

/* P(chi-squared with `dof` degrees of freedom > chi2); dof >= 1. 1 for chi2 <= 0; to 1e-12. */
double sb_chi2_tail(double chi2, int dof);

/* P(|t| > t), both sides together; dof = 0 stands for the normal distribution. */
double sb_student_tail(double t, int dof);

/* The |t| that chance exceeds with probability p, both sides together, 1e-12 < p < 1; the
 * inverse of sb_student_tail, to 1e-9. */
double sb_student_limit(double p, int dof);

#endif
