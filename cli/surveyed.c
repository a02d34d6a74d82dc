#include "cli/surveyed.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cli/err.h"

double sb_surveyed_move_mm(const sb_surveyed *s, int part) {
    return 0.0 - s->survey.excess_mm[part]; /* no -0 */
}

bool sb_surveyed_beyond_saddle(const sb_surveyed *s) {
    return s->survey.verdict != SB_SURVEY_UNDECIDED &&
           (s->survey.fault[SB_PART_NUT] || s->survey.fault[SB_PART_SLOT]);
}

double sb_surveyed_after(const sb_surveyed *s, size_t i) {
    return sb_surveyed_beyond_saddle(s) ? s->survey.cured_cents[i] : s->survey.saddle_only_cents[i];
}

const char *sb_survey_verdict_text(sb_survey_verdict verdict) {
    switch (verdict) {
    case SB_SURVEY_TRUE: return "true";
    case SB_SURVEY_SADDLE: return "saddle";
    case SB_SURVEY_NUT: return "nut";
    case SB_SURVEY_SLOT: return "slot";
    case SB_SURVEY_FRET: return "fret";
    case SB_SURVEY_UNDECIDED: return "undecided";
    }
    return "undecided";
}

const char *sb_survey_part_text(int part) {
    static const char *const texts[] = {"saddle", "nut", "slot", "fret"};
    return part >= 0 && part <= SB_PARTS ? texts[part] : "none";
}

/* --- text that grows -------------------------------------------------------------------- */

typedef struct {
    char *text;
    size_t size;
} growing;

static void add(growing *g, const char *format, ...) SB_PRINTF(2, 3);

static void add(growing *g, const char *format, ...) {
    size_t used = strlen(g->text);
    va_list values;
    va_start(values, format);
    (void)vsnprintf(g->text + used, g->size - used, format, values);
    va_end(values);
}

/* "1", "1 and 2", "1, 2 and 5" */
static void add_list(growing *g, const int items[], size_t n) {
    for (size_t i = 0; i < n; i++)
        add(g, "%s%d", i == 0 ? "" : i + 1 == n ? " and " : ", ", items[i]);
}

/* --- which frets would help ------------------------------------------------------------- */

static bool was_read(const sb_surveyed *s, int fret) {
    for (size_t i = 0; i < s->n; i++)
        if (s->readings[i].fret == fret)
            return true;
    return false;
}

/* A slot shows at the first frets alone; the others by the whole neck. */
size_t sb_surveyed_play_too(const sb_surveyed *s, int frets[4]) {
    static const int near[] = {1, 2, 3, 5}, whole[] = {1, 12, 5, 9, 2, 15, 7, 17};
    const sb_survey *v = &s->survey;
    bool contested = v->between[0] >= 0;
    if (!contested && (v->verdict != SB_SURVEY_UNDECIDED || v->doubt == SB_DOUBT_MISFIT))
        return 0;
    bool slot = contested && (v->between[0] == SB_PART_SLOT || v->between[1] == SB_PART_SLOT);
    const int *wanted = slot ? near : whole;
    size_t n_wanted = slot ? 2 : sizeof whole / sizeof *whole, n = 0;
    size_t most = v->doubt == SB_DOUBT_FEW ? 4 : 2;
    for (size_t i = 0; i < n_wanted && n < most; i++) /* in the order of their use; then sorted */
        if (!was_read(s, wanted[i]) && wanted[i] <= s->plan->last) {
            size_t at = n++;
            for (; at > 0 && frets[at - 1] > wanted[i]; at--)
                frets[at] = frets[at - 1];
            frets[at] = wanted[i];
        }
    return n;
}

/* --- headlines -------------------------------------------------------------------------- */

static void say_saddle(const sb_surveyed *s, growing *g) {
    double move = s->survey.saddle_only_mm;
    add(g, "move the saddle %.2f mm %s the nut", fabs(move),
        move > 0 ? "BACK, away from" : "FORWARD, towards");
}

static void say_nut(const sb_surveyed *s, growing *g) {
    double move = sb_surveyed_move_mm(s, SB_PART_NUT);
    add(g, "the nut is out: it belongs %.2f mm %s the frets", fabs(move),
        move > 0 ? "BACK, away from" : "FORWARD, towards");
}

static void say_slot(const sb_surveyed *s, growing *g) {
    double excess = s->survey.excess_mm[SB_PART_SLOT];
    add(g, "the nut slot is about %.2f mm too %s", fabs(excess), excess > 0 ? "high" : "low");
}

/* "fret 7", "frets 3 and 7"; returns the last one's place among the readings, n how many. */
static size_t add_bad(const sb_surveyed *s, growing *g, size_t *n) {
    int bad[SB_SURVEY_MAX];
    size_t at = 0;
    *n = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->survey.bad[i]) {
            at = i;
            bad[(*n)++] = s->readings[i].fret;
        }
    if (*n > 0)
        add(g, *n == 1 ? "fret " : "frets ");
    add_list(g, bad, *n);
    return at;
}

static void say_frets(const sb_surveyed *s, growing *g) {
    size_t n, at = add_bad(s, g, &n);
    if (n == 1)
        add(g, " stands out by itself, %.1f cents %s", fabs(s->survey.cured_cents[at]),
            s->survey.cured_cents[at] > 0 ? "sharp" : "flat");
    else
        add(g, " stand out by themselves");
}

/* Several parts at once: what each has to do. */
static void say_together(const sb_surveyed *s, growing *g) {
    const char *before = "";
    for (int part = SB_PART_SADDLE; part <= SB_PART_NUT; part++) {
        double move = sb_surveyed_move_mm(s, part);
        if (!s->survey.fault[part])
            continue;
        add(g, "%s%s %.2f mm %s", before, sb_survey_part_text(part), fabs(move),
            move > 0 ? "BACK" : "FORWARD");
        before = ", ";
    }
    if (s->survey.fault[SB_PART_SLOT])
        add(g, "%snut slot %.2f mm %s", before, fabs(s->survey.excess_mm[SB_PART_SLOT]),
            s->survey.excess_mm[SB_PART_SLOT] > 0 ? "LOWER" : "HIGHER");
}

static void say_part(const sb_surveyed *s, growing *g) {
    const bool *fault = s->survey.fault;
    int parts = fault[SB_PART_SADDLE] + fault[SB_PART_NUT] + fault[SB_PART_SLOT];
    if (parts > 1)
        say_together(s, g);
    else if (s->survey.verdict == SB_SURVEY_SADDLE)
        say_saddle(s, g);
    else if (s->survey.verdict == SB_SURVEY_NUT)
        say_nut(s, g);
    else
        say_slot(s, g);
    char frets[120] = "";
    size_t n;
    growing more = {frets, sizeof frets};
    (void)add_bad(s, &more, &n);
    if (n > 0)
        add(g, "; %s stand%s out", frets, n == 1 ? "s" : "");
}

/* "slot or nut: cannot be told apart from these frets: play 1 and 2 too" */
static void say_between(const sb_surveyed *s, growing *g) {
    int too[4];
    size_t n = sb_surveyed_play_too(s, too);
    add(g, "%s or %s: cannot be told apart from these frets",
        sb_survey_part_text(s->survey.between[0]), sb_survey_part_text(s->survey.between[1]));
    add(g, n > 0 ? ": play " : ": pluck each more often");
    add_list(g, too, n);
    add(g, n > 0 ? " too" : "");
}

static void say_undecided(const sb_surveyed *s, growing *g) {
    int too[4];
    size_t n = sb_surveyed_play_too(s, too);
    switch (s->survey.doubt) {
    case SB_DOUBT_FEW: add(g, "too few frets to tell what is at fault"); break;
    case SB_DOUBT_LOOSE: add(g, "the readings are too uncertain to tell what is at fault"); break;
    case SB_DOUBT_MISFIT: add(g, "the readings fit neither saddle, nut nor slot"); return;
    default: say_between(s, g); return;
    }
    add(g, n > 0 ? ": play " : ": pluck each more often");
    add_list(g, too, n);
    add(g, n > 0 ? " too" : "");
}

void sb_surveyed_headline(const sb_surveyed *s, char *text, size_t size) {
    growing g = {text, size};
    text[0] = '\0';
    switch (s->survey.verdict) {
    case SB_SURVEY_TRUE:
        add(&g, "leave it: no fret read is out by more than %g cent%s", s->options.tolerance_cents,
            s->options.tolerance_cents == 1 ? "" : "s");
        break;
    case SB_SURVEY_SADDLE:
    case SB_SURVEY_NUT:
    case SB_SURVEY_SLOT: say_part(s, &g); break;
    case SB_SURVEY_FRET: say_frets(s, &g); break;
    case SB_SURVEY_UNDECIDED: say_undecided(s, &g); break;
    }
}

/* --- advice ----------------------------------------------------------------------------- */

static void advise_slot(const sb_surveyed *s, growing *g) {
    if (s->survey.excess_mm[SB_PART_SLOT] > 0)
        add(g, "A high slot stretches the string at the first frets; file it a little at a time "
               "and survey again, as one cut too deep cannot be put back. ");
    if (!s->kappa_told && !(s->options.slot_std_error_mm > 0))
        add(g, "How high it is rests on a usual string: tell --string NOTE:GAUGE and --action, or "
               "better the height over fret 1 by a feeler gauge (--first-fret). ");
}

static void advise_nut(const sb_surveyed *s, growing *g) {
    if (sb_surveyed_move_mm(s, SB_PART_NUT) < 0)
        add(g, "Forward: a shelf or shim at the nut's front edge does it. ");
    else
        add(g, "Back: file the front of the slot so that the string leaves it that much later. ");
    if (!s->survey.fitted[SB_PART_SLOT])
        add(g, "See to the depth of the slot first. ");
}

static void advise_frets(const sb_surveyed *s, growing *g) {
    for (size_t i = 0; i < s->n; i++) {
        if (!s->survey.bad[i])
            continue;
        double beyond = s->options.neck.scale_mm / sb_ratio_from_cents(s->readings[i].fret_cents);
        double off = s->survey.cured_cents[i], mm = fabs(off) * beyond / SB_CENTS_PER_LN;
        add(g, "Fret %d sounds as if it stood %.2f mm nearer the %s: ", s->readings[i].fret, mm,
            off > 0 ? "bridge" : "nut");
        add(g, "look whether its crown is worn flat, whether it is loose, and where it stands. ");
    }
}

/* After single frets the parts, which the headline leaves out then. */
static void advise_parts(const sb_surveyed *s, growing *g) {
    const sb_survey *v = &s->survey;
    bool any = v->fault[SB_PART_SADDLE] || sb_surveyed_beyond_saddle(s);
    if (v->verdict == SB_SURVEY_FRET && any) {
        add(g, "Besides: ");
        say_together(s, g);
        add(g, ". ");
    }
    if (v->fault[SB_PART_SLOT])
        advise_slot(s, g);
    if (v->fault[SB_PART_NUT])
        advise_nut(s, g);
    if (v->between[0] >= 0) {
        add(g, "Also out: ");
        say_between(s, g);
        add(g, ". ");
    }
    if (sb_surveyed_beyond_saddle(s))
        add(g,
            "If the nut is not to be touched, move the saddle %.2f mm %s: %.1f cents RMS "
            "remain. ",
            fabs(v->saddle_only_mm), v->saddle_only_mm > 0 ? "back" : "forward",
            v->saddle_only_rms_cents);
}

void sb_surveyed_advice(const sb_surveyed *s, char *text, size_t size) {
    growing g = {text, size};
    text[0] = '\0';
    advise_frets(s, &g);
    if (s->survey.verdict != SB_SURVEY_UNDECIDED)
        advise_parts(s, &g);
    else if (s->survey.doubt == SB_DOUBT_MISFIT)
        add(&g, "Several frets are uneven, the string is old or false, or it was pressed unevenly: "
                "see to these, then read each fret several times. ");
    else if (s->survey.fault[SB_PART_SADDLE])
        add(&g, "The saddle is out either way; its best move while the nut stays stands above. ");
    size_t n = strlen(text);
    if (n > 0 && text[n - 1] == ' ')
        text[n - 1] = '\0';
}
