#include "core/suspect.h"

#include <math.h>
#include <string.h>

#include "core/order.h"

#define MEDIAN_OVER_N 1.570796327 /* variance of a median over that of a mean (normal: pi/2) */

typedef struct {
    double value, std_error;
    bool known;
} departure;

static const double spread[SB_SIGNS] = {SB_ERROR_SPREAD, SB_STIFFNESS_SPREAD, SB_SCATTER_SPREAD,
                                        SB_BEATING_SPREAD};
static const double repeats[SB_SIGNS] = {SB_ERROR_SPREAD, SB_STIFFNESS_REPEATS, SB_SCATTER_REPEATS,
                                         SB_BEATING_REPEATS};

const char *sb_sign_text(sb_sign sign) {
    static const char *const texts[SB_SIGNS] = {"error", "inharmonicity", "scatter", "beating"};
    return texts[sign];
}

static bool known(const sb_figure *f) {
    return f->std_error >= 0.0;
}

/* --- departures in units that can be compared ------------------------------------------- */

static departure difference(const sb_figure *a, const sb_figure *b) {
    return (departure){a->value - b->value, hypot(a->std_error, b->std_error),
                       known(a) && known(b)};
}

/* ln of a over b, both raised by `least` first. */
static departure log_ratio(const sb_figure *a, const sb_figure *b, double least) {
    departure d = {.known =
                       known(a) && known(b) && a->value + least > 0.0 && b->value + least > 0.0};

    if (d.known) {
        const double x = a->value + least, y = b->value + least;
        d.value = log(x / y);
        d.std_error = hypot(a->std_error / x, b->std_error / y);
    }
    return d;
}

static double least_of(sb_sign sign) {
    return sign == SB_SIGN_SCATTER   ? SB_SCATTER_LEAST
           : sign == SB_SIGN_BEATING ? SB_BEATING_LEAST
                                     : 0.0;
}

static departure from_past(const sb_string_signs *s, sb_sign sign) {
    return sign == SB_SIGN_ERROR ? difference(&s->now[sign], &s->was[sign])
                                 : log_ratio(&s->now[sign], &s->was[sign], least_of(sign));
}

/* What is compared with that of the other strings. */
static departure from_usual(const sb_string_signs *s, sb_sign sign) {
    const sb_figure usual = {1.0 - least_of(sign), 0.0}; /* any will do: it cancels */

    return sign == SB_SIGN_ERROR           ? from_past(s, sign)
           : sign == SB_SIGN_INHARMONICITY ? log_ratio(&s->now[sign], &s->expected, 0.0)
                                           : log_ratio(&s->now[sign], &usual, least_of(sign));
}

/* --- against the others --------------------------------------------------------------- */

/* How far all[i] lies from the median of the others; false with too few of them. */
static bool beside(const departure all[], size_t n, size_t i, double least, double *out) {
    double values[SB_STRINGS_MAX], squares[SB_STRINGS_MAX];
    size_t m = 0;

    for (size_t j = 0; j < n; j++) {
        if (j != i && all[j].known) {
            values[m] = all[j].value;
            squares[m++] = all[j].std_error * all[j].std_error + least * least;
        }
    }
    if (m < SB_SUSPECT_FEWEST || !all[i].known) {
        return false;
    }
    const double middle = sb_median(values, m);
    const double of_middle = MEDIAN_OVER_N * sb_median(squares, m) / (double)m;
    for (size_t j = 0; j < m; j++) {
        values[j] = fabs(values[j] - middle);
    }
    const double apart = fmax(least, SB_MAD_TO_STD * sb_median(values, m));
    *out = (all[i].value - middle) /
           sqrt(apart * apart + all[i].std_error * all[i].std_error + of_middle);
    return true;
}

static bool beyond(double score, double limit, sb_sign sign) {
    return (sign == SB_SIGN_ERROR || sign == SB_SIGN_INHARMONICITY ? fabs(score) : score) > limit;
}

static void judge(const sb_string_signs *s, sb_sign sign, sb_suspicion *out) {
    const departure past = from_past(s, sign);

    if (past.known) {
        out->since[sign] = past.value / hypot(past.std_error, repeats[sign]);
    }
    /* It must have gone the way in which it stands apart. */
    const bool since = past.known && beyond(out->since[sign], SB_SUSPECT_SINCE, sign) &&
                       out->since[sign] * out->beside[sign] > 0.0;
    out->signs[sign] = past.known ? since && beyond(out->beside[sign], SB_SUSPECT_BESIDE, sign)
                                  : beyond(out->beside[sign], SB_SUSPECT_ALONE, sign);
    out->suspect = out->suspect || out->signs[sign];
}

void sb_suspect(const sb_string_signs strings[], size_t n, sb_suspicion out[]) {
    departure all[SB_STRINGS_MAX];

    memset(out, 0, n * sizeof *out);
    for (int k = 0; k < SB_SIGNS; k++) {
        const sb_sign sign = (sb_sign)k;
        for (size_t i = 0; i < n; i++) {
            all[i] = from_usual(&strings[i], sign);
        }
        for (size_t i = 0; i < n; i++) {
            out[i].judged[k] = beside(all, n, i, spread[k], &out[i].beside[k]);
            if (out[i].judged[k]) {
                judge(&strings[i], sign, &out[i]);
            }
        }
    }
}
