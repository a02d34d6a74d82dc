#include "audio/ear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/clip.h"
#include "audio/ear_parts.h"
#include "core/levels.h"
#include "core/pitch.h"

enum { MANY_PARTIALS = 8 };

static const double MOST_BEYOND_S = 0.42; /* for the lowest string */
/* What is skipped before a note is measured, as a rule. */
static const double ATTACK_S = 0.11;
/* Of the peaks' power beside a recorded note's own, at most; other strings' is more. */
static const double LITTLE_BESIDE = 0.01;
/* A string that sounds alone, by what of the peaks' power is none of its partials', and is. */
static const double ALONE_FOREIGN = 0.02, ALONE_HELD = 0.98;
/* A note's beginning says most of how it glides. Where more than this part of it is skipped for
 * overload, and its glide leaves the pitch open by more than so much, the beginning is needed. */
static const double MUCH_SKIPPED = 0.2, MOST_OPEN_CENTS = 0.05;
/* A clean rest so long is measured by itself, however much was skipped. */
static const double LONG_S = 0.4;
static const double SHORTEST_S = 0.12, FEWEST_PERIODS = 6.0;
static const double LEAST_EXPLAINED = 0.25;
static const double LEAST_HELD = 0.4, MOST_SCATTER_CENTS = 1.9, MOST_OF_FEW_CENTS = 2.5;
static const double MOST_BELOW = 0.1; /* a string that rings along holds a hundredth */
static const double MOST_LEFT_OVER = 0.35, MOST_FEW_APART_CENTS = 3.0;
/* Of the power of an overload that was skipped: what a string that rings along has less than. */
static const double LEAST_LOUD = 0.1;
static const double MOST_DYING = 0.5;
static const double MOST_UNREST_CENTS = 12.0; /* half against half */
static const double MAINS_SPREAD = 0.004;     /* a part of the mains' frequency */

sb_status sb_ear_new(double rate_hz, double lowest_hz, double highest_hz, sb_ear **out) {
    if (lowest_hz <= 0)
        lowest_hz = SB_EAR_LOWEST_HZ;
    if (highest_hz <= 0)
        highest_hz = SB_EAR_HIGHEST_HZ;
    if (!(rate_hz >= 4000.0 && rate_hz <= 400000.0) || !(lowest_hz >= 15.0) ||
        !(highest_hz > lowest_hz) || !(highest_hz <= 5000.0))
        return SB_E_RANGE;
    sb_ear *ear = calloc(1, sizeof *ear);
    if (!ear)
        return SB_E_MEMORY;
    ear->rate_hz = rate_hz;
    ear->lowest_hz = lowest_hz;
    ear->highest_hz = highest_hz;
    ear->window_max = (size_t)(SB_EAR_WINDOW_MAX_S * rate_hz);
    ear->beyond_max = (size_t)(MOST_BEYOND_S * rate_hz);
    ear->before = malloc(ear->beyond_max * sizeof *ear->before);
    ear->after = malloc(ear->beyond_max * sizeof *ear->after);
    ear->mended = malloc(ear->window_max * sizeof *ear->mended);
    ear->quiet = malloc(ear->window_max * sizeof *ear->quiet);
    if (!ear->before || !ear->after || !ear->mended || !ear->quiet ||
        sb_spectrum_new(rate_hz, ear->window_max + 2 * ear->beyond_max, &ear->spectrum) != SB_OK ||
        sb_coarse_new(rate_hz, lowest_hz, highest_hz, &ear->coarse) != SB_OK) {
        sb_ear_free(ear);
        return SB_E_MEMORY;
    }
    *out = ear;
    return SB_OK;
}

void sb_ear_free(sb_ear *ear) {
    if (!ear)
        return;
    sb_spectrum_free(ear->spectrum);
    sb_coarse_free(ear->coarse);
    free(ear->before);
    free(ear->after);
    free(ear->mended);
    free(ear->quiet);
    free(ear);
}

/* open: a part of the pitch that its glide leaves open. */
static bool in_tune_with_mains(double hz, double open) {
    return fmin(fabs(hz / 50.0 - 1.0), fabs(hz / 60.0 - 1.0)) < MAINS_SPREAD + open;
}

/* Hum that the room before the note did not betray: in tune with the mains, and not proved stiff,
 * as every string is. Its decays prove nothing: hum swells and ebbs, and in a short note noise
 * makes decays, and a glide, of any size. */
static bool is_hum(const sb_ear *ear, const sb_series_fit *fit) {
    double open = fabs(ear->now.glide.gamma);
    return (in_tune_with_mains(fit->sounding_hz, open) ||
            in_tune_with_mains(0.5 * fit->sounding_hz, open)) &&
           fit->inharmonicity <
               SB_EAR_LEAST_STIFFNESS + SB_EAR_STIFFNESS_SIGMAS * fit->inharmonicity_std;
}

static void learn_hum(sb_ear *ear, const sb_series_fit *fit) {
    int multiple = fit->sounding_hz > 75.0 ? 2 : 1;
    ear->hum = (sb_hum){.mains_hz = fit->sounding_hz / multiple};
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        int k = ear->now.tracks[i].number * multiple;
        const sb_line *line = &ear->now.tracks[i].lines[0];
        if (k <= SB_HUM_HARMONICS)
            ear->hum.amplitude[k - 1] = hypot(line->re, line->im);
    }
}

/* Of what sounds in a track together, over the whole note: its band leaves out the ends, and lines
 * that lie close add up or cancel by turns. */
static double mean_power(const sb_track *track, double span_s) {
    enum { MOMENTS = 64 };
    double sum = 0;
    for (size_t k = 0; k < MOMENTS; k++) {
        double t = ((double)k + 0.5) / MOMENTS * span_s - track->band.t0_s, re = 0, im = 0;
        for (size_t j = 0; j < sb_ear_sounds(track); j++) {
            const sb_line *line = sb_ear_sound(track, j);
            double size = exp(fmin(-line->decay_per_s * t, 20.0));
            double angle = SB_TWO_PI * line->hz * t, c = cos(angle), s = sin(angle);
            re += size * (line->re * c - line->im * s);
            im += size * (line->re * s + line->im * c);
        }
        sum += re * re + im * im;
    }
    return 0.5 * sum / MOMENTS;
}

struct shares { /* of the sound over the span of the partials found */
    double explained, noise;
};

/* What the series holds of the sound's power, and what the noise between the partials does: a
 * real sound of variance s^2 gives a band 4 s^2 / rate of noise a hertz. */
static struct shares share_out(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
    double held = 0, quietest = (double)INFINITY;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        held += mean_power(track, span_s);
        quietest = fmin(quietest, track->noise * track->band.step_s);
    }
    double top_hz = ear->now.tracks[ear->now.n_tracks - 1].hz + 0.5 * fit->f0_hz;
    double power = sb_spectrum_power(ear->spectrum, 0.5 * fit->f0_hz, top_hz);
    if (!(power > 0))
        return (struct shares){0, 0};
    return (struct shares){fmin(held / power, 1.0), fmin(0.5 * quietest * top_hz / power, 1.0)};
}

/* Neighbours that the note is too short to resolve from a partial pull it further; and many
 * partials that hold all there is are one string's, a false one's where they scatter. */
static double most_scatter_cents(const sb_series_fit *fit, double foreign, double held,
                                 double span_s) {
    bool many = fit->used >= MANY_PARTIALS;
    if (many && foreign < ALONE_FOREIGN && held > ALONE_HELD)
        return SB_EAR_MOST_SCATTER_CENTS;
    double most = many ? MOST_SCATTER_CENTS : MOST_OF_FEW_CENTS;
    return fmin(most + 40.0 / (fit->sounding_hz * span_s), SB_EAR_MOST_SCATTER_CENTS);
}

/* Do a series' two or three partials make a string? They are low ones then, and no body pulls two
 * far: any two lines lie on some series, and three of a tap's modes now and then. */
static bool few_make_one(const sb_ear *ear, const sb_series_fit *fit) {
    size_t low = 0;
    bool far = false;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        low += point->number <= 2;
        far |= fabs(point->departure_cents) > hypot(MOST_FEW_APART_CENTS, 2.0 * point->std_cents);
    }
    return fit->used > 3 || (fit->used == 3 && low > 0) || (low == 2 && !far);
}

/* Most of a pitch that moves through its partials' bands seems to die at once. */
static bool dies_at_once(const sb_ear *ear) {
    double all = 0, dying = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double energy = track->energy_snr * track->noise * track->band.step_s;
        all += energy;
        dying += track->lines[0].decay_per_s > SB_EAR_FASTEST_PER_S ? energy : 0.0;
    }
    return dying > MOST_DYING * all;
}

/* Where nothing is a string's. */
static sb_pluck_fault no_string(const sb_ear *ear) {
    return ear->heard_hum ? SB_PLUCK_HUM : SB_PLUCK_NO_PITCH;
}

/* Noise alone also has its chance lines, but they hold little of it. Much left over that the
 * noise does not account for: steady for a part of the time only, a bend or a note begun. */
static sb_pluck_fault judge(sb_ear *ear, const sb_series_fit *fit, struct shares share,
                            double span_s) {
    double rest = 1.0 - share.explained;
    if (share.explained < LEAST_EXPLAINED || ear->now.n_tracks < 2 || /* one is no series */
        !few_make_one(ear, fit))
        return no_string(ear);
    if (is_hum(ear, fit))
        return SB_PLUCK_HUM;
    double foreign = sb_ear_foreign_share(ear, fit, span_s), held = sb_ear_held_share(ear, span_s);
    if (ear->doubtful || foreign > sb_ear_most_foreign(fit) || held < LEAST_HELD ||
        sb_ear_octave_below(ear, fit, span_s) > MOST_BELOW ||
        sb_ear_lent_its_series(ear, fit, foreign < LITTLE_BESIDE) ||
        sb_ear_mostly_astray(ear, fit) ||
        fit->scatter_cents > most_scatter_cents(fit, foreign, held, span_s))
        return SB_PLUCK_MANY_STRINGS;
    if ((rest > MOST_LEFT_OVER && share.noise < 0.3 * rest) ||
        sb_glide_unrest_cents(ear->now.tracks, ear->now.n_tracks) > MOST_UNREST_CENTS ||
        dies_at_once(ear) || sb_ear_moves(ear))
        return SB_PLUCK_UNSTEADY;
    return SB_PLUCK_GOOD;
}

/* What of a note is measured. */
struct part {
    const float *samples;
    size_t n, skipped;       /* skipped: before samples[0], for overload */
    const float *overloaded; /* as it was recorded, where samples[] has overloads filled in: */
    double filled;           /* so large a share */
};

static struct part whole(sb_ear *ear, const float samples[], size_t n) {
    double filled = sb_ear_mend(ear, samples, n);
    return (struct part){ear->mended, n, 0, samples, filled};
}

/* What follows the overload; or, where that is too little, all of it, mended. */
static struct part fit_to_hear(sb_ear *ear, const float samples[], size_t n) {
    size_t skip = sb_clip_end(samples, n);
    if (2 * skip > n && (double)(n - skip) < LONG_S * ear->rate_hz)
        return whole(ear, samples, n);
    return (struct part){samples + skip, n - skip, skip, NULL, 0};
}

static double mean_square(const float samples[], size_t n) {
    double power = 0;
    for (size_t i = 0; i < n; i++)
        power += (double)samples[i] * (double)samples[i];
    return power / (double)(n ? n : 1);
}

const float *sb_ear_quieted(sb_ear *ear, const float samples[], size_t n) {
    if (ear->hum_lines.n == 0)
        return samples;
    memcpy(ear->quiet, samples, n * sizeof samples[0]);
    sb_hum_take_out(&ear->hum_lines, ear->hum_after_s, ear->rate_hz, ear->quiet, n);
    return ear->quiet;
}

/* Hears the mains in the room; where its lines go on through the note they are to be taken out of
 * it, and their errors are the hum that is left. */
static void hear_hum(sb_ear *ear, const struct part *part, const sb_ear_scene *scene) {
    ear->hum = (sb_hum){0};
    ear->hum_lines = (sb_hum_lines){0};
    if (!scene || scene->n_room == 0)
        return;
    ear->hum = sb_coarse_hum(ear->coarse, scene->room, scene->n_room);
    ear->hum_after_s = (double)(scene->n_between + part->skipped) / ear->rate_hz;
    if (!sb_hum_follow(&ear->hum, scene->room, scene->n_room, ear->rate_hz, &ear->hum_lines) ||
        !sb_hum_goes_on(&ear->hum_lines, part->samples, part->n, ear->hum_after_s, ear->rate_hz)) {
        ear->hum_lines.n = 0;
        return;
    }
    ear->hum.mains_hz = ear->hum_lines.mains_hz;
    double middle_s = ear->hum_after_s + 0.5 * (double)part->n / ear->rate_hz;
    for (size_t i = 0; i < ear->hum_lines.n; i++)
        ear->hum.amplitude[ear->hum_lines.line[i].k - 1] *=
            fmin(sb_hum_error(&ear->hum_lines, i, middle_s), 1.0);
}

/* Measures the string that sounds, not the mains. False where there is none. */
static bool recognise(sb_ear *ear, const struct part *part, const sb_ear_scene *scene,
                      sb_series_fit *fit) {
    double span_s = (double)part->n / ear->rate_hz;
    ear->since_pluck_s = ATTACK_S + (double)part->skipped / ear->rate_hz;
    hear_hum(ear, part, scene);
    const float *samples = sb_ear_quieted(ear, part->samples, part->n);
    sb_spectrum_load(ear->spectrum, samples, part->n);
    ear->heard_hum = false;
    if (!sb_ear_recognise(ear, samples, part->n, span_s, fit))
        return false;
    if (!is_hum(ear, fit))
        return true;
    learn_hum(ear, fit);
    ear->heard_hum = true;
    return sb_ear_recognise(ear, samples, part->n, span_s, fit) && !is_hum(ear, fit);
}

/* Was the string that was measured the loud one while the note overloaded? What of a high string
 * outlasts an overload may be less than what rings along with it. */
static bool was_loud(const sb_ear *ear, const struct part *part) {
    double since_s = 0.5 * (double)part->skipped / ear->rate_hz, power = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double growth = 2.0 * track->lines[0].decay_per_s * (track->band.t0_s + since_s);
        power += 0.5 * sb_ear_partial_power(track) * exp(fmin(growth, 20.0));
    }
    return power > LEAST_LOUD * mean_square(part->samples - part->skipped, part->skipped);
}

static bool misses_glide(const sb_ear *ear, const struct part *part) {
    return (double)part->skipped > MUCH_SKIPPED * (double)(part->n + part->skipped) &&
           SB_CENTS_PER_LN * ear->now.glide.common_std > MOST_OPEN_CENTS;
}

/* Measures the string in the part that follows an overload; where it is not there, or its glide is
 * hardly heard any more, the one in all of it. */
static bool hear(sb_ear *ear, struct part *part, const sb_ear_scene *scene, sb_series_fit *fit) {
    bool heard = recognise(ear, part, scene, fit);
    if (part->skipped == 0 || (heard && was_loud(ear, part) && !misses_glide(ear, part)))
        return heard;
    *part = whole(ear, part->samples - part->skipped, part->n + part->skipped);
    return recognise(ear, part, scene, fit);
}

/* Turns of filling in and measuring come nearer by the share that is not filled in: what the last
 * of them still moved the pitch by is that part of what is left. */
static void doubt(sb_reading *out, double filled, double moved_cents) {
    double cents = moved_cents * fmax(2.0, filled / (1.0 - filled));
    out->std_error_cents = hypot(out->std_error_cents, cents);
    out->common_std_error_cents = hypot(out->common_std_error_cents, cents);
}

void sb_ear_read(sb_ear *ear, const float samples[], size_t n, const sb_ear_scene *scene,
                 sb_reading *out) {
    struct part part = fit_to_hear(ear, samples, n < ear->window_max ? n : ear->window_max);
    sb_series_fit fit;
    memset(out, 0, sizeof *out);
    bool enough = (double)part.n >= SHORTEST_S * ear->rate_hz;
    bool measured = enough && hear(ear, &part, scene, &fit);
    double span_s = (double)part.n / ear->rate_hz, moved_cents = 0;
    out->fault = enough ? SB_PLUCK_NO_PITCH : SB_PLUCK_TOO_SHORT;
    out->level_dbfs = sb_power_db(mean_square(part.samples, part.n));
    out->length_s = span_s;
    out->mended = part.overloaded != NULL;
    if (!enough)
        return;
    out->mains_hz = ear->hum.mains_hz > 0 ? (ear->hum.mains_hz < 55.0 ? 50.0 : 60.0) : 0.0;
    if (!measured) {
        out->fault = no_string(ear);
        return;
    }
    if (fit.sounding_hz * span_s < FEWEST_PERIODS) {
        out->fault = SB_PLUCK_TOO_SHORT;
        return;
    }
    struct shares share = share_out(ear, &fit, span_s);
    if (part.overloaded &&
        !sb_ear_measure_mended(ear, part.overloaded, part.n, span_s, &fit, &moved_cents))
        return;
    if (!sb_ear_measure_again(ear, &fit, span_s))
        return;
    out->snr_db = sb_power_db(share.explained / fmax(share.noise, 1e-9));
    out->fault = judge(ear, &fit, share, span_s);
    if (sb_pluck_is_string(out->fault))
        sb_ear_report(ear, &fit, out);
    doubt(out, part.filled, moved_cents);
}
