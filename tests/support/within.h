/* within: comparing doubles in cmocka tests, with both numbers in the message. */
#ifndef SB_TESTS_WITHIN_H
#define SB_TESTS_WITHIN_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Fails unless |got - want| <= tolerance; NaN always fails. */
#define assert_within(got, want, tolerance)                                                        \
    within_or_fail((got), (want), (tolerance), #got, __FILE__, __LINE__)

void within_or_fail(double got, double want, double tolerance, const char *what, const char *file,
                    int line);

#endif
