#include "audio/ear_parts.h"

#include <math.h>

#include "audio/joint.h"
#include "core/pitch.h"

enum {
    GLIDE_ROUNDS = 3,
    SOLVED_FROM = 6,
    SOLVED_EACH = 10,
    LAST = 3,
    SOLVED_EVERY = 3,
    ENDS_ROUNDS = 4
};
enum { LOOKS = 2 }; /* for planes and a glide together */
/* Of an overloaded note: see sb_ear_measure_mended. */
enum { MENDING_TURNS = 3, MENDING_ROUNDS = 3, MOST_MENDING_ROUNDS = 8 };

/* A glide less than this spoils no partial so far that it must be looked for anew. */
static const double SLIGHT_GLIDE_CENTS = 1.4;
static const double USEFUL_ENERGY_SNR = 21.0;
/* Nor need planes be looked for anew with one that differs by so little. */
static const double SAME_GLIDE_CENTS = 0.2;
/* What the products of an overload that is not mended can do to a partial that they lie on. */
static const double PRODUCTS_CENTS = 0.4;
static const double MENDING_STEP = 1.8;
/* Rounds that move the pitch by less, and by less than such a part of its error, are enough. */
static const double STILL_CENTS = 0.005, STILL_SHARE = 0.1;
/* Found by strings of known truth that make their own motion; and a partial that would show its
 * planes. */
static const double HIDDEN_TIMES = 2.5, STRONG_ENERGY_SNR = 70.0;
/* Such a doubt leaves open whether the note glides, and such a scatter of the partials too; then so
 * large a glide is tried, and must explain the bands the better by so much (log likelihood). */
static const double OPEN_CENTS = 0.05, OPEN_SCATTER_CENTS = 0.3, TRIED_CENTS = 8.0,
                    LEAST_BETTER = 10.0;
/* The same account of the bands' likelihood, so far apart, leaves odds of e to one: what is left of
 * bands in which other strings ring is no noise of independent samples. Found by such notes. */
static const double EVIDENCE_SCALE = 30.0;
/* No planes have a string's partials scatter so far: what was taken for them is something else. */
static const double MOST_SCATTER_CENTS = 1.0;
static const double LEAST_LEFT = 1e-14; /* of a band, of full scale 1 */
static const double SERIES_TOP_SHARE = 0.42, SERIES_TOP_HZ = 9500.0;

/* By how much hum that is not told apart from a partial may draw it, Hz: their ratio times
 * a part of what the note's length resolves. */
static double hum_pull_hz(const sb_ear *ear, const sb_track *track) {
    double span_s = (double)track->band.n * track->band.step_s;
    int k = sb_hum_at(&ear->hum, track->hz, 1.0 / span_s);
    if (k == 0)
        return 0.0;
    double own = hypot(track->lines[0].re, track->lines[0].im);
    return 0.3 / span_s * ear->hum.amplitude[k - 1] / fmax(own, 1e-12);
}

static void note_point(sb_ear *ear, size_t i) {
    const sb_track *track = &ear->now.tracks[i];
    double std_hz = hypot(track->hz_std, hum_pull_hz(ear, track));
    ear->now.points[i] = (sb_series_point){
        .number = track->number,
        .hz = track->hz,
        .std_cents = fmax(SB_CENTS_PER_LN * std_hz / track->hz, 1e-6),
        .unit_cents = SB_CENTS_PER_LN * track->hz_std / (track->hz * sqrt(track->noise)),
        .left_out =
            !(std_hz < 0.03 * track->hz) || track->lines[0].decay_per_s > SB_EAR_FASTEST_PER_S};
}

/* Few partials, of which a body pulls some, say less of B than the guess does; and one more hardly
 * betters a series of many. */
static bool is_to_be_solved(size_t n) {
    return n >= SOLVED_FROM && (n < SOLVED_EACH || n % SOLVED_EVERY == 0);
}

/* How far the last partials found lie off the guess, a factor. */
static double off_guess(const sb_ear *ear, const sb_series_guess *guess) {
    double sum = 0;
    size_t n = ear->now.n_tracks < LAST ? ear->now.n_tracks : LAST;
    for (size_t i = ear->now.n_tracks - n; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        sum += track->hz / sb_series_hz(guess->f0_hz, guess->inharmonicity, track->number);
    }
    return sum / (double)n;
}

/* Follows the series upward, refining it by what has been found so far. */
static void climb(sb_ear *ear, const sb_series_guess *guess, double span_s) {
    double f0 = guess->f0_hz, b = guess->inharmonicity;
    double top_hz = fmin(SERIES_TOP_HZ, SERIES_TOP_SHARE * ear->rate_hz);
    int silent = 0;
    ear->now.n_tracks = 0;
    for (int number = 1; number <= SB_MAX_PARTIALS && silent < SB_EAR_GIVE_UP_AFTER; number++) {
        double hz = sb_series_hz(f0, b, number);
        if (hz > top_hz)
            break;
        double share = number <= 3 ? 0.012 : 0.004;
        double reach = fmin(fmax(share * hz, 1.5 / span_s), 0.25 * f0);
        sb_track *track = &ear->now.tracks[ear->now.n_tracks];
        if (!sb_track_start(track, ear->spectrum, &ear->now.glide, number,
                            (sb_track_aim){hz, f0, reach})) {
            silent++;
            continue;
        }
        silent = number > guess->highest ? silent : 0;
        note_point(ear, ear->now.n_tracks++);
        sb_series_fit fit;
        if (is_to_be_solved(ear->now.n_tracks) &&
            sb_series_solve(ear->now.points, ear->now.n_tracks, &fit) && fit.used >= 3) {
            f0 = fit.f0_hz;
            b = fit.inharmonicity;
        } else if (ear->now.n_tracks < SOLVED_FROM) {
            f0 = guess->f0_hz * off_guess(ear, guess);
        }
        for (size_t i = 0; i < ear->now.n_tracks; i++)
            ear->now.points[i].left_out = false;
    }
}

/* A partial near the noise is where the noise happened to peak: of no use beside strong ones. */
static void renote(sb_ear *ear) {
    size_t strong = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        note_point(ear, i);
        strong += ear->now.tracks[i].energy_snr >= USEFUL_ENERGY_SNR;
    }
    for (size_t i = 0; i < ear->now.n_tracks && strong >= 2; i++)
        ear->now.points[i].left_out |= ear->now.tracks[i].energy_snr < USEFUL_ENERGY_SNR;
}

/* Marks what lies off the series though no body pulls it so far: another string's line, or hum,
 * has no part in the glide. */
static void mark_astray(sb_ear *ear) {
    sb_series_fit fit;
    renote(ear);
    if (!sb_series_solve(ear->now.points, ear->now.n_tracks, &fit))
        return;
    double usual = fmax(SB_EAR_USUAL_SCATTER_CENTS, 2.0 * fit.scatter_cents);
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        double most = hypot(usual, 3.0 * point->std_cents);
        ear->now.tracks[i].astray =
            point->number > SB_EAR_PULLED_TO && fabs(point->departure_cents) > most;
    }
}

static void take_glide_out(sb_ear *ear) {
    mark_astray(ear);
    sb_glide glide = sb_glide_estimate(ear->now.tracks, ear->now.n_tracks, &ear->now.glide);
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        sb_track_turn(&ear->now.tracks[i], &ear->now.glide, &glide);
    ear->now.glide = glide;
    renote(ear);
}

static bool glides(const sb_ear *ear) {
    return fabs(SB_CENTS_PER_LN * ear->now.glide.gamma) > SLIGHT_GLIDE_CENTS;
}

/* Where the note glides as a string may: what does not, in a track's band. False where that is
 * nothing; else the noise has been heard anew. */
static bool set_apart(sb_ear *ear, sb_track *track) {
    return glides(ear) && SB_CENTS_PER_LN * ear->now.glide.gamma < SB_EAR_LARGEST_GLIDE_CENTS &&
           sb_track_set_apart(track, ear->spectrum, &ear->now.glide);
}

static void set_all_apart(sb_ear *ear) {
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        (void)set_apart(ear, &ear->now.tracks[i]);
}

/* Lines that were left over change what the partials' phases say of the glide; where none was, and
 * no glide to be turned out of the bands, it has been estimated from just these. */
static void explain_leftovers(sb_ear *ear, const sb_series_fit *fit, double span_s) {
    bool changed = ear->now.glide.gamma != 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        double hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, ear->now.tracks[i].number);
        changed |= sb_track_add_lines(&ear->now.tracks[i], ear->spectrum, hz,
                                      fmax(0.004 * hz, 0.8 / span_s), !glides(ear));
    }
    if (changed)
        take_glide_out(ear);
    else
        renote(ear);
}

static bool found_planes(const sb_ear *ear) {
    return ear->now.planes.apart > 0;
}

/* Planes that the note is too short to tell apart have all partials off on one side, and scatter
 * them the less, the more alike they are shared: how many times that all may be off. */
static double hidden_planes(const sb_ear *ear) {
    double turns = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double span_s = (double)track->band.n * track->band.step_s;
        if (track->energy_snr > STRONG_ENERGY_SNR)
            turns = fmax(turns, SB_PLANES_USUAL_APART * track->hz * span_s);
    }
    return found_planes(ear) ? 0.0 : HIDDEN_TIMES * fmax(1.0 - turns, 0.0);
}

static bool solve_and_weigh(sb_ear *ear, sb_series_fit *fit) {
    if (!sb_series_solve(ear->now.points, ear->now.n_tracks, fit))
        return false;
    sb_series_weigh(ear->now.points, ear->now.n_tracks, hidden_planes(ear), fit);
    return true;
}

static bool refine(sb_ear *ear) {
    ear->now.taken_out = ear->now.glide;
    return sb_joint_refine(ear->now.tracks, ear->now.n_tracks, ear->since_pluck_s, &ear->now.planes,
                           &ear->now.glide);
}

static void measure_round_glide(sb_ear *ear) {
    for (int i = 0; i < GLIDE_ROUNDS; i++) {
        take_glide_out(ear);
        for (size_t k = 0; k < ear->now.n_tracks; k++)
            if (!set_apart(ear, &ear->now.tracks[k]))
                sb_track_hear_noise(&ear->now.tracks[k], ear->spectrum);
    }
    renote(ear);
}

/* Measures the series with such a glide to begin with. *doubt: what the glide has left of the
 * pitch's, relative, before lines are added that may stand for one. False as sb_ear_measure. */
static bool follow(sb_ear *ear, const sb_series_guess *guess, const sb_glide *begin, double span_s,
                   sb_series_fit *fit, double *doubt) {
    ear->now.glide = *begin;
    climb(ear, guess, span_s);
    if (begin->gamma == 0) {
        ear->now.glide = sb_glide_guess(ear->now.tracks, ear->now.n_tracks);
        if (ear->now.glide.gamma != 0)
            climb(ear, guess, span_s);
    } else {
        set_all_apart(ear);
    }
    if (ear->now.n_tracks == 0)
        return false;
    take_glide_out(ear);
    if (glides(ear)) {
        if (!sb_series_solve(ear->now.points, ear->now.n_tracks, fit))
            return false;
        sb_series_guess again = *guess;
        again.f0_hz = fit->f0_hz;
        again.inharmonicity = fmax(fit->inharmonicity, 0.0);
        climb(ear, &again, span_s);
        measure_round_glide(ear);
    }
    *doubt = ear->now.glide.common_std;
    if (!sb_series_solve(ear->now.points, ear->now.n_tracks, fit))
        return false;
    explain_leftovers(ear, fit, span_s);
    return true;
}

/* What an account of the note leaves of each partial's band, and takes for it: minus the logarithm
 * of its likelihood, by the Bayesian information criterion; NAN for partials not heard. */
struct account {
    double of[SB_MAX_PARTIALS + 1];
};

static struct account account_for(const sb_ear *ear) {
    struct account account;
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    for (size_t i = 0; i <= SB_MAX_PARTIALS; i++)
        account.of[i] = (double)NAN;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double n = sb_band_independent(&track->band), lines = (double)sb_ear_sounds(track);
        if (track->n_lines == 0)
            continue;
        sb_lines_subtract(&track->band, track->lines, track->n_lines, re, im);
        double left = sb_band_energy(re, im, track->band.n) / (double)track->band.n;
        account.of[track->number] = n * log(left + LEAST_LEFT) + 2.0 * lines * log(n);
    }
    return account;
}

/* By how much the first accounts better for the partials that both know. */
static double better_by(const struct account *first, const struct account *second) {
    double sum = 0;
    for (size_t i = 0; i <= SB_MAX_PARTIALS; i++)
        if (!isnan(first->of[i]) && !isnan(second->of[i]))
            sum += second->of[i] - first->of[i];
    return sum;
}

/* Of a choice between pitches so far apart, where one accounts for the bands so much the better. */
static double hidden_std(double better, double apart) {
    double odds = exp(-fabs(better) / EVIDENCE_SCALE), chance = odds / (1.0 + odds);
    return fabs(apart) * sqrt(chance * (1.0 - chance));
}

/* Amid other strings a glide may hide: their lines bend the phases, and lines added to the bands
 * stand for it. So where the phases have left it open, the note is also measured with one to begin
 * with, and that is kept where it accounts for the bands the better. Else the pitch may be off yet
 * by what the phases had left open before lines were added. */
static bool follow_both_ways(sb_ear *ear, const sb_series_guess *guess, double span_s,
                             sb_series_fit *fit) {
    const sb_glide none = {0};
    const sb_glide usual = sb_glide_exponential(TRIED_CENTS / SB_CENTS_PER_LN, SB_GLIDE_USUAL_S);
    double doubt, better = -(double)INFINITY;
    ear->now.hidden_std = 0;
    if (!follow(ear, guess, &none, span_s, fit, &doubt))
        return false;
    if (ear->now.glide.gamma != 0 ||
        (SB_CENTS_PER_LN * doubt < OPEN_CENTS && fit->scatter_cents < OPEN_SCATTER_CENTS))
        return true;
    struct account still = account_for(ear);
    double still_hz = fit->sounding_hz;
    if (follow(ear, guess, &usual, span_s, fit, &doubt) && glides(ear)) {
        struct account gliding = account_for(ear);
        better = better_by(&gliding, &still);
        ear->now.hidden_std = hidden_std(better, log(fit->sounding_hz / still_hz));
    }
    if (better > LEAST_BETTER)
        return true;
    bool followed = follow(ear, guess, &none, span_s, fit, &doubt);
    if (followed && ear->now.glide.gamma == 0)
        ear->now.hidden_std = hypot(ear->now.hidden_std, doubt);
    return followed;
}

/* Measures the series with just such a glide taken out. */
static bool hold_to(sb_ear *ear, const sb_series_guess *guess, const sb_glide *glide, double span_s,
                    sb_series_fit *fit) {
    ear->now.planes = (sb_planes){0};
    ear->now.glide = *glide;
    climb(ear, guess, span_s);
    if (ear->now.n_tracks == 0)
        return false;
    set_all_apart(ear);
    renote(ear);
    return sb_series_solve(ear->now.points, ear->now.n_tracks, fit);
}

static bool guess_glide(sb_ear *ear, sb_glide *glide) {
    return sb_joint_guess_glide(ear->now.tracks, ear->now.n_tracks, &ear->now.taken_out, glide);
}

/* Where there may be planes, the glide was told by phases that these bend. So planes are looked for
 * once more with one that is told with them together. True where there are any, be they as before.
 */
static bool look_again(sb_ear *ear, const sb_series_guess *guess, double span_s,
                       sb_series_fit *fit) {
    const sb_planes before = ear->now.planes;
    bool had = found_planes(ear);
    sb_glide glide, told = ear->now.glide;
    for (int look = 0; look < LOOKS && guess_glide(ear, &glide); look++) {
        double apart_cents = SB_CENTS_PER_LN * fabs(glide.gamma - told.gamma);
        if (look == 0 && had && apart_cents < SAME_GLIDE_CENTS)
            return true;
        if (!hold_to(ear, guess, &glide, span_s, fit))
            break;
        if (refine(ear) && sb_planes_account_better(&ear->now.planes, &before))
            return true;
    }
    ear->now.planes = (sb_planes){.none = !had};
    return follow_both_ways(ear, guess, span_s, fit) && refine(ear);
}

static bool fit_again(sb_ear *ear, sb_series_fit *fit) {
    renote(ear);
    return solve_and_weigh(ear, fit);
}

bool sb_ear_measure(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit) {
    ear->now.planes = (sb_planes){0};
    if (!follow_both_ways(ear, guess, span_s, fit))
        return false;
    double scatter_cents = fit->scatter_cents;
    bool planes = refine(ear);
    bool looked = planes || ear->now.planes.none;
    if (looked && SB_CENTS_PER_LN * fabs(ear->now.taken_out.gamma) > SLIGHT_GLIDE_CENTS)
        planes = look_again(ear, guess, span_s, fit);
    if (!planes)
        return solve_and_weigh(ear, fit);
    if (fit_again(ear, fit) && fit->scatter_cents < fmax(MOST_SCATTER_CENTS, scatter_cents))
        return true;
    ear->now.planes = (sb_planes){.none = true};
    return follow_both_ways(ear, guess, span_s, fit) && solve_and_weigh(ear, fit);
}

/* Mends and measures by turns. False where the ends cannot be seen: it stays as it was. */
static bool mend_in_turns(sb_ear *ear, const float samples[], size_t n, double span_s,
                          sb_series_fit *fit) {
    for (int turn = 0; turn < MENDING_TURNS; turn++) {
        sb_ear_mend_again(ear, samples, n, fit->f0_hz, 1.0);
        sb_spectrum_exchange(ear->spectrum, sb_ear_quieted(ear, ear->mended, n));
        if (!sb_ear_see_ends(ear, fit->f0_hz, span_s))
            return false;
    }
    return fit_again(ear, fit);
}

static bool stands_still(const sb_ear *ear, const sb_series_fit *fit, double moved_cents) {
    double common_cents = SB_CENTS_PER_LN * ear->now.glide.common_std;
    double std_cents = hypot(fit->sounding_std_cents, common_cents);
    return moved_cents < fmax(STILL_CENTS, STILL_SHARE * std_cents);
}

bool sb_ear_measure_mended(sb_ear *ear, const float samples[], size_t n, double span_s,
                           sb_series_fit *fit, double *moved_cents) {
    double before_hz = fit->sounding_hz;
    *moved_cents = PRODUCTS_CENTS;
    for (int round = 0; mend_in_turns(ear, samples, n, span_s, fit); round++) {
        *moved_cents = fabs(SB_CENTS_PER_LN * log(fit->sounding_hz / before_hz));
        if (round >= MENDING_ROUNDS - 1 &&
            (stands_still(ear, fit, *moved_cents) || round == MOST_MENDING_ROUNDS - 1))
            return true;
        before_hz = fit->sounding_hz;
        sb_series_guess again = {.f0_hz = fit->f0_hz,
                                 .inharmonicity = fmax(fit->inharmonicity, 0.0),
                                 .highest = ear->now.tracks[ear->now.n_tracks - 1].number};
        sb_ear_mend_again(ear, samples, n, fit->f0_hz, MENDING_STEP);
        sb_spectrum_load(ear->spectrum, sb_ear_quieted(ear, ear->mended, n), n);
        if (!sb_ear_measure(ear, &again, span_s, fit))
            return false;
    }
    return ear->now.n_tracks > 0;
}

bool sb_ear_measure_again(sb_ear *ear, sb_series_fit *fit, double span_s) {
    for (int round = 0; round < (glides(ear) ? ENDS_ROUNDS : 1); round++) {
        if (!sb_ear_see_ends(ear, fit->f0_hz, span_s))
            return true;
        set_all_apart(ear);
        take_glide_out(ear);
    }
    explain_leftovers(ear, fit, span_s);
    if (!refine(ear))
        for (size_t i = 0; i < ear->now.n_tracks; i++)
            sb_track_put_plucked_first(&ear->now.tracks[i]);
    return fit_again(ear, fit);
}

double sb_ear_partial_power(const sb_track *track) {
    double power = 0;
    for (size_t j = 0; j < (track->told_apart ? 2 : 1); j++)
        power += pow(track->lines[j].re, 2) + pow(track->lines[j].im, 2);
    return power;
}
