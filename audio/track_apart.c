#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/summits.h"
#include "audio/track.h"
#include "core/pitch.h"

/* Another string's lines and the mains', which stay where they are while the partial glides: out of
 * its band, once the glide is, they would come as sweeps that no line fits. */

/* Such a line must stand so far above the noise, and leave so much less than there was. */
static const double LEAST_SNR = 9.0, LEAST_WORTH = 1.3;
/* And ring on, as a string does that nobody plucked. */
static const double FASTEST_PER_S = 10.0, MOST_GROWTH = 2.0;
/* So near to the partial nothing is told from what a glide not quite known leaves of it. */
static const double OWN_CYCLES = 1.5, OWN_CENTS = 6.0;
/* So near the string's own lines may lie; farther off one is its own only if it explains so much
 * more by gliding along. */
static const double NEAR_CENTS = 15.0, MUCH_BETTER = 0.8;
static const double MIDDLE_SHARE = 0.25; /* of the note: where most of a line is */

/* A band as it was before the glide was taken out, without the partial's own lines. */
struct rest {
    sb_band band;
    double partial_hz; /* from the band's centre */
    double own_hz;     /* so far off it all is the partial's own */
    int number;
    double turned_hz; /* by which the glide was taken out of the band */
    sb_line lines[SB_APART_MAX];
    size_t n;
};

void sb_track_keep_apart(sb_track *track, sb_band *band) {
    const sb_band *old = &track->band;
    double later_s = band->t0_s - old->t0_s, lower_hz = old->centre_hz - band->centre_hz;
    for (size_t j = 0; j < track->n_apart; j++) {
        sb_line *line = &track->apart[j];
        double angle = SB_TWO_PI * (line->hz * later_s + lower_hz * band->t0_s);
        double size = exp(-line->decay_per_s * later_s);
        sb_cpx now = sb_cpx_times((sb_cpx){line->re, line->im},
                                  (sb_cpx){size * cos(angle), size * sin(angle)});
        line->re = now.re, line->im = now.im;
        line->hz += lower_hz;
    }
    sb_lines_subtract(band, track->apart, track->n_apart, band->re, band->im);
}

/* Adds lines[0..n-1] to the band. */
static void put_back(sb_band *band, const sb_line lines[], size_t n) {
    sb_line less[SB_LINES_MAX];
    for (size_t j = 0; j < n; j++) {
        less[j] = lines[j];
        less[j].re = -less[j].re, less[j].im = -less[j].im;
    }
    sb_lines_subtract(band, less, n, band->re, band->im);
}

void sb_track_whole(const sb_track *track, const sb_glide *glide, double re[], double im[]) {
    sb_band band;
    memcpy(re, track->band.re, track->band.n * sizeof re[0]);
    memcpy(im, track->band.im, track->band.n * sizeof im[0]);
    if (track->n_apart == 0)
        return;
    memcpy(&band, &track->band, offsetof(sb_band, re));
    memset(band.re, 0, band.n * sizeof band.re[0]);
    memset(band.im, 0, band.n * sizeof band.im[0]);
    put_back(&band, track->apart, track->n_apart);
    sb_glide_turn(&band, track->number, track->hz, &(sb_glide){0}, glide);
    for (size_t k = 0; k < band.n; k++) {
        re[k] += band.re[k];
        im[k] += band.im[k];
    }
}

static void find_rest(const sb_track *track, const sb_glide *glide, struct rest *rest) {
    double span_s = (double)track->band.n * track->band.step_s;
    memcpy(&rest->band, &track->band, offsetof(sb_band, re));
    sb_lines_subtract(&track->band, track->lines, track->n_lines, rest->band.re, rest->band.im);
    sb_glide_turn(&rest->band, track->number, track->hz, glide, &(sb_glide){0});
    put_back(&rest->band, track->apart, track->n_apart);
    rest->number = track->number;
    rest->turned_hz = track->hz;
    rest->partial_hz = track->lines[0].hz;
    rest->own_hz = fmax(OWN_CYCLES / span_s, OWN_CENTS / SB_CENTS_PER_LN * track->hz);
    rest->n = track->n_apart;
    memcpy(rest->lines, track->apart, sizeof rest->lines);
}

static bool is_own(const struct rest *rest, double hz) {
    return fabs(hz - rest->partial_hz) < rest->own_hz;
}

/* Fits the lines, which must stay clear of the partial. */
static bool fits(const struct rest *rest, sb_line lines[], size_t n) {
    double span_s = (double)rest->band.n * rest->band.step_s;
    if (!sb_lines_fit(&rest->band, lines, n) || !sb_lines_apart(&rest->band, lines, n))
        return false;
    for (size_t j = 0; j < n; j++)
        if (is_own(rest, lines[j].hz) || lines[j].decay_per_s > FASTEST_PER_S ||
            lines[j].decay_per_s < -MOST_GROWTH / span_s)
            return false;
    return true;
}

static double energy_left(const sb_band *band, const sb_line lines[], size_t n) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    sb_lines_subtract(band, lines, n, re, im);
    return sb_band_energy(re, im, band->n);
}

/* The highest summit that is not the partial's own, where it stands out. */
static bool find_line(const struct rest *rest, struct sb_summits *view, sb_line *found) {
    const double *at = view->power + view->reach;
    long last = (long)view->reach - 1, best = -last;
    double top = 0, power;
    sb_summits_look(view, &rest->band, rest->lines, rest->n);
    for (long j = -last; j <= last; j++)
        if (at[j] > top && at[j] > at[j - 1] && at[j] >= at[j + 1] &&
            !is_own(rest, (double)j * view->bin_hz))
            best = j, top = at[j];
    *found = (sb_line){.hz = sb_summits_at(view, best, &power), .decay_per_s = 0.5};
    return top > LEAST_SNR * sb_summits_noise(view);
}

/* Would a line that glides along with the partial, as the string's own do, leave less than `line`
 * does? The string's own lie near; farther off it must be much less. */
static bool glides_along(const struct rest *rest, const sb_glide *glide, const sb_line *line,
                         double left) {
    sb_band turned;
    sb_line along = *line;
    double span_s = (double)rest->band.n * rest->band.step_s;
    memcpy(&turned, &rest->band, offsetof(sb_band, re));
    sb_lines_subtract(&rest->band, rest->lines, rest->n, turned.re, turned.im);
    sb_glide_turn(&turned, rest->number, rest->turned_hz, &(sb_glide){0}, glide);
    along.hz -=
        rest->turned_hz * sb_glide_shift(glide, rest->number, turned.t0_s + MIDDLE_SHARE * span_s);
    double near_hz = NEAR_CENTS / SB_CENTS_PER_LN * rest->turned_hz;
    double times = fabs(line->hz - rest->partial_hz) < near_hz ? 1.0 : MUCH_BETTER;
    return sb_lines_fit(&turned, &along, 1) && energy_left(&turned, &along, 1) < times * left;
}

static void find_lines(struct rest *rest, sb_spectrum *spectrum, const sb_glide *glide) {
    struct sb_summits view;
    sb_line more[SB_APART_MAX];
    if (rest->n > 0 && !fits(rest, rest->lines, rest->n))
        rest->n = 0;
    sb_summits_open(&view, spectrum, &rest->band, 0);
    double before = energy_left(&rest->band, rest->lines, rest->n);
    while (rest->n < SB_APART_MAX && sb_lines_have_room(&rest->band, rest->n + 2)) {
        memcpy(more, rest->lines, sizeof more);
        if (!find_line(rest, &view, &more[rest->n]) || !fits(rest, more, rest->n + 1))
            return;
        double left = energy_left(&rest->band, more, rest->n + 1);
        if (before < LEAST_WORTH * left || glides_along(rest, glide, &more[rest->n], left))
            return;
        memcpy(rest->lines, more, sizeof more);
        rest->n++;
        before = left;
    }
}

bool sb_track_set_apart(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide) {
    struct rest rest;
    sb_band *band = &rest.band;
    sb_line own[SB_LINES_MAX];
    if (track->n_lines == 0)
        return false;
    find_rest(track, glide, &rest);
    find_lines(&rest, spectrum, glide);
    if (rest.n == 0 && track->n_apart == 0)
        return false;
    sb_lines_subtract(band, rest.lines, rest.n, band->re, band->im);
    sb_glide_turn(band, track->number, track->hz, &(sb_glide){0}, glide);
    put_back(band, track->lines, track->n_lines);
    memcpy(own, track->lines, sizeof own);
    if (!sb_lines_fit(band, own, track->n_lines) || !sb_lines_apart(band, own, track->n_lines))
        return false;
    memcpy(track->apart, rest.lines, sizeof rest.lines);
    track->n_apart = rest.n;
    sb_track_take(track, spectrum, band, own);
    return true;
}
