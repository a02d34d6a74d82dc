/* bench_ear: how well the ear reads pitch, beside the bound and beside other estimators.
 *
 *   bench_ear [seed=1] [notes=112] [peers=30] [condition=NUMBER] [verbose=1]
 *
 * notes: per condition, nine conditions (tests/support/corpus.h); peers: how many of these
 * the peers read too (0 = none); condition: only this one, from 0; verbose: every error
 * beyond four standard errors or ten targets on a line of its own. Fails nothing.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/corpus.h"
#include "tests/support/ears.h"
#include "tests/support/peers.h"
#include "tests/support/tally.h"

enum { WINDOWS = 2 };

static const double window_s[WINDOWS] = {2.0, 0.4};

/* Wanted RMS over 2 s in cents; over 0.4 s eight times that. The last three stand for what all at
 * once may come to, and for what the planes may. */
static const double target_cents[CORPUS_CONDITIONS] = {0.002, 0.002, 0.006, 0.005, 0.02, 0.02,
                                                       0.03,  0.01,  0.1,   0.1,   0.1,  0.03};

typedef struct {
    unsigned long seed, notes, peer_notes;
    long only;
    bool verbose;
} options;

typedef struct {
    tally ear[WINDOWS], ear_beside[WINDOWS]; /* beside: over the notes the peers read too */
    tally peer[WINDOWS][PEERS];
} row;

static double cents(double from, double to) {
    return 1200.0 * log2(to / from);
}

static const float *window_of(const corpus_note *note, size_t w, size_t *n) {
    const size_t first = note->n_room + note->n_skip, want = (size_t)(window_s[w] * note->rate_hz);
    *n = want < note->n - first ? want : note->n - first;
    return note->samples + first;
}

static void tell(corpus_condition condition, size_t i, size_t w, const corpus_note *note,
                 const sb_reading *r) {
    printf("  %-16s %5zu %.1f s  %8.3f Hz at %.0f  B %.1e  ", corpus_name(condition), i,
           window_s[w], note->truth_hz, note->rate_hz, note->inharmonicity);
    if (r->fault != SB_PLUCK_GOOD)
        printf("refused: %s\n", sb_pluck_fault_text(r->fault));
    else
        printf("error %.5f  std error %.5f  B read %.1e\n", cents(note->truth_hz, r->hz),
               r->std_error_cents, r->inharmonicity);
}

static void read_by_ear(const options *o, corpus_condition condition, size_t i,
                        const corpus_note *note, row *to) {
    for (size_t w = 0; w < WINDOWS; w++) {
        const sb_reading r = ears_read_note(note, window_s[w]);
        tally one = {0};
        if (r.fault == SB_PLUCK_GOOD)
            tally_add(&one, cents(note->truth_hz, r.hz), r.std_error_cents, note->bound_cents[w]);
        else
            one.refused = 1;
        tally_merge(&to->ear[w], &one);
        if (i < o->peer_notes)
            tally_merge(&to->ear_beside[w], &one);
        const double most = fmin(4.0 * r.std_error_cents, target_cents[condition] * (w ? 80 : 10));
        if (o->verbose && (one.refused || one.worst_cents > most || one.gross))
            tell(condition, i, w, note, &r);
    }
}

static void read_by_peers(const corpus_note *note, row *to) {
    for (size_t w = 0; w < WINDOWS; w++) {
        size_t n;
        const float *samples = window_of(note, w, &n);
        for (size_t p = 0; p < PEERS; p++) {
            const double hz = peer_pitch_hz(&peers_all()[p], note->rate_hz, samples, n);
            if (hz > 0.0)
                tally_add(&to->peer[w][p], cents(note->truth_hz, hz), 0.0, 0.0);
            else
                to->peer[w][p].refused++;
        }
    }
}

static row run_condition(const options *o, corpus_condition condition) {
    row to = {0};
    for (size_t i = 0; i < o->notes; i++) {
        corpus_note note = corpus_make(condition, o->seed, i);
        read_by_ear(o, condition, i, &note, &to);
        if (i < o->peer_notes)
            read_by_peers(&note, &to);
        corpus_free(&note);
    }
    return to;
}

/* The peer with the least RMS among those with no more gross errors or refusals than one in
 * ten; NULL when there is none. */
static const tally *best_peer(const tally peers[PEERS], const char **name) {
    const tally *best = NULL;
    for (size_t p = 0; p < PEERS; p++) {
        const tally *t = &peers[p];
        if (t->readings == 0 || 10 * (t->gross + t->refused) > t->readings + t->refused)
            continue;
        if (best == NULL || tally_rms(t) < tally_rms(best)) {
            best = t;
            *name = peers_all()[p].name;
        }
    }
    return best;
}

static void print_figure(int width, int decimals, double value) {
    if (isfinite(value))
        printf(" %*.*f", width, decimals, value);
    else
        printf(" %*s", width, "-");
}

static void print_row(const row rows[], corpus_condition condition, size_t w) {
    const tally *t = &rows[condition].ear[w];
    const char *name = "";
    const tally *best = best_peer(rows[condition].peer[w], &name);
    printf("%-16s %6.3f", corpus_name(condition), target_cents[condition] * (w == 0 ? 1.0 : 8.0));
    print_figure(9, 5, tally_rms(t));
    printf(" %8.4f %6zu %6zu", t->worst_cents, t->refused, t->gross);
    print_figure(7, 2, tally_bound_ratio(t));
    print_figure(6, 1, tally_inside_1(t));
    print_figure(6, 1, tally_inside_2(t));
    printf(" |");
    print_figure(9, 5, tally_rms(&rows[condition].ear_beside[w]));
    print_figure(9, 5, best != NULL ? tally_rms(best) : (double)NAN);
    if (best != NULL)
        printf(" %5zu  %s", best->gross, name);
    puts("");
}

static void print_table(const options *o, const row rows[], size_t w) {
    tally all = {0};
    printf("\nPitch over %.1f s, cents (RMS without gross errors, which are > %.0f; refused and\n"
           "gross: counts; xCRB: RMS of error over Cramer-Rao bound; in 1, in 2: %% of errors\n"
           "inside 1 and 2 of the reported standard errors; right: the same notes for both)\n",
           window_s[w], TALLY_GROSS_CENTS);
    printf("%-16s %6s %9s %8s %6s %6s %7s %6s %6s | %9s %9s %5s  %s\n", "condition", "target",
           "ear RMS", "worst", "refus", "gross", "xCRB", "in 1", "in 2", "ear RMS", "best peer",
           "gross", "which");
    for (size_t c = 0; c < CORPUS_CONDITIONS; c++) {
        if (o->only >= 0 && c != (size_t)o->only)
            continue;
        print_row(rows, (corpus_condition)c, w);
        tally_merge(&all, &rows[c].ear[w]);
    }
    printf("%-16s %6s %9s %8s %6zu %6zu %7s %6.1f %6.1f   of %zu notes\n", "together", "", "", "",
           all.refused, all.gross, "", tally_inside_1(&all), tally_inside_2(&all),
           all.readings + all.refused);
}

static void print_peers(const options *o, const row rows[], size_t w) {
    printf(
        "\nEach peer over %.1f s, RMS cents / gross or without a pitch, of %lu notes a row\n%-16s",
        window_s[w], o->peer_notes, "condition");
    for (size_t p = 0; p < PEERS; p++)
        printf(" %13s", peers_all()[p].name);
    puts("");
    for (size_t c = 0; c < CORPUS_CONDITIONS; c++) {
        if (o->only >= 0 && c != (size_t)o->only)
            continue;
        printf("%-16s", corpus_name((corpus_condition)c));
        for (size_t p = 0; p < PEERS; p++) {
            const tally *t = &rows[c].peer[w][p];
            print_figure(8, 4, tally_rms(t));
            printf(" /%3zu", t->gross + t->refused);
        }
        puts("");
    }
}

static unsigned long number(const char *text) {
    return strtoul(text, NULL, 10);
}

static options parse(int argc, char *argv[]) {
    options o = {.seed = 1, .notes = 112, .peer_notes = 30, .only = -1};
    for (int i = 1; i < argc; i++) {
        const char *value = strchr(argv[i], '=');
        const size_t length = value != NULL ? (size_t)(value - argv[i]) : 0;
        if (length == 4 && strncmp(argv[i], "seed", 4) == 0)
            o.seed = number(value + 1);
        else if (length == 5 && strncmp(argv[i], "notes", 5) == 0)
            o.notes = number(value + 1);
        else if (length == 5 && strncmp(argv[i], "peers", 5) == 0)
            o.peer_notes = number(value + 1);
        else if (length == 9 && strncmp(argv[i], "condition", 9) == 0)
            o.only = (long)number(value + 1);
        else if (length == 7 && strncmp(argv[i], "verbose", 7) == 0)
            o.verbose = number(value + 1) != 0;
        else {
            fprintf(stderr,
                    "bench_ear: '%s' is not one of seed= notes= peers= condition= "
                    "verbose=\n",
                    argv[i]);
            exit(64);
        }
    }
    if (o.peer_notes > o.notes)
        o.peer_notes = o.notes;
    return o;
}

int main(int argc, char *argv[]) {
    const options o = parse(argc, argv);
    static row rows[CORPUS_CONDITIONS];
    printf("seed %lu, %lu notes a condition, %lu of them read by the peers too\n", o.seed, o.notes,
           o.peer_notes);
    for (size_t c = 0; c < CORPUS_CONDITIONS; c++)
        if (o.only < 0 || c == (size_t)o.only)
            rows[c] = run_condition(&o, (corpus_condition)c);
    for (size_t w = 0; w < WINDOWS; w++)
        print_table(&o, rows, w);
    for (size_t w = 0; w < WINDOWS && o.peer_notes > 0; w++)
        print_peers(&o, rows, w);
    return 0;
}
