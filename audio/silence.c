#include "audio/silence.h"

#include <math.h>

#include "audio/averaged.h"
#include "core/levels.h"
#include "core/order.h"

/* In tenths of a second. */
enum { TENTH = 20, TENTHS_MAX = 1201, QUIETEST = 16 };
static const double STIR_DB = 6.0;
static const double NO_POWER = 1e-15; /* -150 dBFS: not even the last bit of 24 stirs */

/* --- finding it ---------------------------------------------------------------------------- */

static size_t tenths_of(const sb_sound *sound, double power[TENTHS_MAX]) {
    size_t kept, n = 0, frames = sb_sound_frames(sound);
    (void)sb_sound_samples(sound, &kept);
    double kept_s = (double)kept / sb_sound_rate_hz(sound);
    while (n < TENTHS_MAX && (n + 1) * TENTH <= frames &&
           (double)(n + 1) * TENTH * SB_SOUND_FRAME_S <= kept_s) {
        power[n] = 0;
        for (size_t i = n * TENTH; i < (n + 1) * TENTH; i++)
            power[n] += sb_sound_power(sound, i) / TENTH;
        n++;
    }
    return n;
}

/* The power up to which nothing happens. Dead tenths, from before the sound was switched on or
 * after it was, are no silence, unless there is nothing else. */
static double limit_of(const double power[], size_t n, double *dead) {
    double sorted[TENTHS_MAX];
    size_t live = 0;
    for (size_t i = 0; i < n; i++)
        if (power[i] > NO_POWER)
            sorted[live++] = power[i];
    *dead = live > 0 ? NO_POWER : -1;
    return live > 0 ? sb_kth_smallest(sorted, live, live / QUIETEST) * sb_db_power(STIR_DB)
                    : NO_POWER;
}

bool sb_silence_find(const sb_sound *sound, double *from_s, double *to_s) {
    double power[TENTHS_MAX], dead;
    size_t n = tenths_of(sound, power), best = 0, best_from = 0;
    double limit = limit_of(power, n, &dead);
    for (size_t i = 0, run = 0; i < n; i++) {
        run = power[i] <= limit && power[i] > dead ? run + 1 : 0;
        if (run > best) {
            best = run;
            best_from = i + 1 - run;
        }
    }
    /* Something may begin or end within the tenths at both ends, unless it is the sound's own. */
    const double tenth_s = TENTH * SB_SOUND_FRAME_S;
    double from = best_from > 0 ? (double)best_from + 1 : 0;
    double to = (double)(best_from + best) - (best_from + best < n ? 1 : 0);
    if (!((to - from) * tenth_s >= SB_SILENCE_LEAST_S))
        return false;
    *from_s = from * tenth_s;
    *to_s = to * tenth_s;
    return true;
}

/* --- levels --------------------------------------------------------------------------------- */

typedef struct {
    double hum, all; /* mean squares of one window */
} parts;

static parts part(const sb_averaged *a, const double power[], const sb_mains *m) {
    parts p = {0, 0};
    size_t from = sb_averaged_bin(a, SB_NOISE_FROM_HZ);
    size_t to = sb_averaged_bin(a, fmin(SB_NOISE_TO_HZ, 0.47 * a->rate_hz));
    for (size_t j = from; j <= to; j++)
        p.all += power[j];
    for (size_t k = 1; m && k <= m->n; k++)
        p.hum += sb_mains_power(a, m, power, k);
    return p;
}

/* Of the mean of n windows; a window of this kind hardly repeats what its neighbour says at an
 * overlap of half (Harris 1978). */
static double std_error_db(double mean, double squares, double n) {
    double variance = fmax(0, squares / n - mean * mean) / (n - 1);
    return mean > 0 ? hypot(10 / log(10) * sqrt(variance) / mean, 0.02) : 0;
}

static void measure(sb_averaged *a, const sb_mains *m, sb_silence *s) {
    double n = (double)a->windows, hum = 0, noise = 0, all = 0;
    double hums = 0, noises = 0, alls = 0;
    for (size_t w = 0; w < a->windows; w++) {
        sb_averaged_transform(a, w);
        parts p = part(a, a->power, m);
        double rest = p.all - p.hum;
        hum += p.hum / n, hums += p.hum * p.hum;
        noise += rest / n, noises += rest * rest;
        all += p.all / n, alls += p.all * p.all;
    }
    s->noise_dbfs = sb_power_db(noise);
    s->noise_std_error_db = std_error_db(noise, noises, n);
    s->total_dbfs = sb_power_db(all);
    s->total_std_error_db = std_error_db(all, alls, n);
    s->hum_dbfs = m ? sb_power_db(hum) : SB_LEVEL_NONE;
    s->hum_std_error_db = m ? std_error_db(hum, hums, n) : 0;
}

static double fall_db(const sb_averaged *a) {
    double half[2] = {0, 0};
    for (size_t i = 0; i < a->n; i++) {
        double x = (double)a->samples[i] - a->mean;
        half[2 * i >= a->n] += x * x;
    }
    return sb_power_db(half[0]) - sb_power_db(half[1]);
}

static void tell(sb_averaged *a, sb_silence *s) {
    sb_mains found = {.hz = 0};
    s->length_s = (double)a->n / a->rate_hz;
    s->band_to_hz = fmin(SB_NOISE_TO_HZ, 0.47 * a->rate_hz);
    s->fall_db = fall_db(a);
    const sb_mains *m = sb_mains_find(a, s->band_to_hz, &found) ? &found : NULL;
    measure(a, m, s);
    s->mains_hz = found.hz;
    s->mains_std_error_hz = found.std_error_hz;
    s->nominal_hz = !m ? 0 : found.hz < 55 ? 50 : 60;
    for (size_t k = 1; k <= SB_MAINS_HARMONICS; k++)
        s->harmonic_dbfs[k - 1] = sb_power_db(sb_mains_power(a, &found, a->average, k));
}

sb_status sb_silence_measure(const float samples[], size_t n, double rate_hz, sb_silence *out) {
    sb_averaged a = {.samples = samples, .n = n, .rate_hz = rate_hz};
    if (!(rate_hz >= 4e3 && rate_hz <= 1e6))
        return SB_E_RANGE;
    if ((double)n < (SB_SILENCE_LEAST_S - 0.01) * rate_hz)
        return SB_E_TOO_SHORT;
    sb_status status = sb_averaged_begin(&a);
    if (status == SB_OK && a.mean_square < NO_POWER)
        status = SB_E_UNDETERMINED;
    if (status == SB_OK) {
        sb_silence s = {.from_s = 0};
        tell(&a, &s);
        *out = s;
    }
    sb_averaged_end(&a);
    return status;
}
