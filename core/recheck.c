#include "core/recheck.h"

#include <math.h>

const char *sb_recheck_text(sb_recheck_verdict verdict) {
    switch (verdict) {
    case SB_RECHECK_NOT_HEARD: return "not heard";
    case SB_RECHECK_NOTHING_KEPT: return "nothing kept";
    case SB_RECHECK_SAME: return "same";
    case SB_RECHECK_BETTER: return "better";
    case SB_RECHECK_WORSE: return "worse";
    case SB_RECHECK_CANNOT_TELL: return "cannot tell";
    }
    return "cannot tell";
}

static void compare(double now, double was, double tolerance, sb_recheck *out) {
    out->change_cents = now - was;
    if (fabs(out->change_cents) <= 2.0 * out->std_error_cents) {
        out->verdict =
            2.0 * out->std_error_cents <= tolerance ? SB_RECHECK_SAME : SB_RECHECK_CANNOT_TELL;
        return;
    }
    out->verdict = fabs(now) < fabs(was) ? SB_RECHECK_BETTER : SB_RECHECK_WORSE;
    out->by_cents = fabs(fabs(now) - fabs(was));
}

static sb_inside inside(sb_error_reading now, double tolerance, bool compromise,
                        sb_recheck_verdict verdict) {
    if (now.std_error > tolerance / 2.0) {
        return SB_INSIDE_UNKNOWN;
    }
    if (fabs(now.cents) <= tolerance) {
        return SB_INSIDE;
    }
    if (compromise && verdict == SB_RECHECK_CANNOT_TELL) {
        return SB_INSIDE_UNKNOWN;
    }
    const bool no_worse = verdict == SB_RECHECK_SAME || verdict == SB_RECHECK_BETTER;
    return compromise && no_worse ? SB_INSIDE : SB_OUTSIDE;
}

sb_recheck sb_recheck_compare(sb_error_reading now, sb_error_reading was, double tolerance_cents,
                              bool compromise) {
    sb_recheck out = {.verdict = SB_RECHECK_NOT_HEARD};

    if (!(now.std_error > 0.0)) {
        return out;
    }
    if (was.std_error > 0.0) {
        out.std_error_cents = hypot(now.std_error, was.std_error);
        compare(now.cents, was.cents, tolerance_cents, &out);
    } else {
        out.verdict = SB_RECHECK_NOTHING_KEPT;
    }
    out.inside = inside(now, tolerance_cents, compromise, out.verdict);
    return out;
}
