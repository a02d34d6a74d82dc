/* bench_session: simulated instruments set up with sound, through the program itself, as a
 * script would: recordings to `setback bench --take`, moves told by `--moved`, or left for it
 * to see.
 *
 *   bench_session [instruments=3] [plucks=2] [seed=1] [verbose]
 *
 * Of each kind so many instruments, each note plucked so often a round. verbose: a line a
 * round, each string's true error, what was read, and its state. Fails nothing; what the
 * program does not answer is said.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <jansson.h>

#include "tests/support/rounds.h"
#include "tests/support/rounds_table.h"
#include "tests/support/sounding.h"

enum { TEXT = 512, MOST_TEXT = 4096, MOST_ROUNDS = 12, MOST_PLUCKS = 4 };

typedef struct {
    char program[TEXT], folder[TEXT], name[64];
    size_t plucks;
    bool told; /* it is told of moves */
    bool verbose;
} session;

/* An instrument at the session. */
typedef struct {
    const session *script;
    specimen f;
    hands hands;
    double best[SPECIMEN_STRINGS];
    int moves[SPECIMEN_STRINGS]; /* of each saddle */
    bool to_pluck[SPECIMEN_STRINGS];
    char moved[MOST_TEXT]; /* options that tell of the moves since the last take */
    rounds_result *out;
} job;

/* --- the program ------------------------------------------------------------------------------ */

/* Runs a command and keeps its last line; false when it fails. */
static bool run(const char *command, char *last, size_t size) {
    FILE *pipe = popen(command, "r");
    char *line = NULL;
    size_t room = 0;
    last[0] = '\0';
    while (pipe != NULL && getline(&line, &room, pipe) > 0)
        (void)snprintf(last, size, "%s", line);
    free(line);
    return pipe != NULL && pclose(pipe) == 0;
}

static void describe(const specimen *f, char *text, size_t size) {
    size_t used = 0;
    for (size_t i = 0; i < f->n_strings; i++) {
        const int n = snprintf(text + used, size - used, "%s%s:%g%s", i > 0 ? "," : "", f->notes[i],
                               1000.0 * f->gauge_in[i], f->wound[i] ? "w" : "");
        used += n > 0 ? (size_t)n : 0;
    }
}

static bool add_to_book(const job *j) {
    char strings[TEXT], command[MOST_TEXT], saddles[32], last[TEXT];
    const saddle_end *end = &j->f.saddles[0].ends[0];
    const size_t each = j->f.saddles[0].count;
    char moves[64] = "--moves hand";
    describe(&j->f, strings, sizeof strings);
    (void)snprintf(saddles, sizeof saddles, "%s",
                   each == 1 ? "each" : (each == 2 ? "pairs" : "one"));
    if (end->thread_mm > 0.0)
        (void)snprintf(moves, sizeof moves, "--thread %.6fmm", end->thread_mm);
    (void)snprintf(command, sizeof command,
                   "%s book add %s --book %s/book.db --scale %gmm --strings %s --saddles %s "
                   "--shape %s --spacing %gmm %s >/dev/null",
                   j->script->program, j->script->name, j->script->folder, j->f.scale_mm, strings,
                   saddles, j->f.saddles[0].slant ? "slant" : "flat", j->f.spacing_mm, moves);
    return run(command, last, sizeof last);
}

/* --- a round ------------------------------------------------------------------------------------
 */

static bool record(job *j, const char *path) {
    sounding s = sounding_begin(prng_next(&j->hands.rng));
    for (size_t k = 0; k < j->f.n_strings; k++) {
        const size_t i = j->f.n_strings - 1 - k;
        hands_note notes[2 * MOST_PLUCKS];
        if (!j->to_pluck[i])
            continue;
        hands_pluck(&j->hands, &j->f, i, j->script->plucks, notes);
        for (size_t n = 0; n < 2 * j->script->plucks; n++)
            sounding_add(&s, &j->f, i, &notes[n]);
        j->out->notes += 2 * j->script->plucks;
    }
    return sounding_write(&s, path);
}

/* The session's summary; NULL, with words, where there is none. */
static json_t *hear(job *j) {
    char command[2 * MOST_TEXT], path[TEXT + 16];
    static char last[1 << 16];
    (void)snprintf(path, sizeof path, "%s/take.wav", j->script->folder);
    if (!record(j, path))
        return NULL;
    (void)snprintf(command, sizeof command, "%s bench %s --book %s/book.db%s --take %s --json",
                   j->script->program, j->script->name, j->script->folder, j->moved, path);
    j->moved[0] = '\0';
    const bool ran = run(command, last, sizeof last);
    json_t *summary = json_loads(last, 0, NULL);
    if (!ran || summary == NULL)
        printf("    no answer to: %s\n", command);
    return summary;
}

static void tell_moved(job *j, size_t saddle, const double done_mm[2]) {
    const specimen_saddle *s = &j->f.saddles[saddle];
    const size_t used = strlen(j->moved), last = s->first + s->count - 1;
    if (s->slant)
        (void)snprintf(j->moved + used, sizeof j->moved - used, " --moved %zu-%zu=%.4f,%.4f",
                       s->first + 1, last + 1, specimen_place(&j->f, s->first, done_mm),
                       specimen_place(&j->f, last, done_mm));
    else
        (void)snprintf(j->moved + used, sizeof j->moved - used, " --moved %zu=%.4fmm", s->first + 1,
                       done_mm[0]);
}

static void move_saddle(job *j, size_t saddle, const double move_mm[2]) {
    const specimen_saddle s = j->f.saddles[saddle];
    double done_mm[2] = {0.0, 0.0};
    for (size_t end = 0; end < (s.slant ? 2U : 1U); end++)
        done_mm[end] = hands_move(&j->hands, &j->f, saddle, end,
                                  specimen_end_move(&j->f, saddle, end, move_mm));
    for (size_t i = s.first; i < s.first + s.count; i++) {
        hands_tune(&j->hands, &j->f, i);
        j->to_pluck[i] = true;
    }
    if (j->script->told)
        tell_moved(j, saddle, done_mm);
    j->out->moves++;
    j->moves[saddle]++;
    rounds_count(j->out, &j->f, saddle, j->best[saddle], j->moves[saddle]);
}

/* Does what the summary asks for; false when it asks for nothing. */
static bool obey(job *j, const json_t *summary) {
    bool any = false;
    for (size_t k = 0; k < j->f.n_saddles; k++) {
        const json_t *saddle = json_array_get(json_object_get(summary, "saddles"), k);
        const double move_mm[2] = {json_number_value(json_object_get(saddle, "move_mm")),
                                   json_number_value(json_object_get(saddle, "end_mm"))};
        if (!json_is_true(json_object_get(saddle, "due")) || j->moves[k] >= ROUNDS_MOST)
            continue;
        move_saddle(j, k, move_mm);
        any = true;
    }
    const json_int_t next = json_integer_value(json_object_get(summary, "next_string"));
    if (!any && next >= 1 && (size_t)next <= j->f.n_strings) {
        j->to_pluck[next - 1] = true;
        any = true;
    }
    return any;
}

static void say(const job *j, int round, const json_t *summary) {
    printf("    round %d:", round);
    for (size_t i = 0; i < j->f.n_strings; i++) {
        const json_t *s = json_array_get(json_object_get(summary, "strings"), i);
        printf("  %zu %+.2f(%+.2f)", i + 1, specimen_error_cents(&j->f, i),
               json_number_value(json_object_get(s, "octave_error_cents")));
        printf(" %s", json_string_value(json_object_get(s, "state")));
    }
    puts("");
}

static void set_up(job *j) {
    bool more = add_to_book(j);
    for (size_t i = 0; i < j->f.n_strings; i++)
        j->to_pluck[i] = true;
    for (int round = 1; more && round <= MOST_ROUNDS; round++) {
        json_t *summary = hear(j);
        memset(j->to_pluck, 0, sizeof j->to_pluck);
        if (j->script->verbose && summary != NULL)
            say(j, round, summary);
        more = summary != NULL && obey(j, summary);
        json_decref(summary);
    }
}

static void bench_instrument(const session *script, specimen_kind kind, uint64_t seed,
                             rounds_result *out) {
    prng rng = prng_seeded(seed);
    job j = {
        .script = script, .f = specimen_random(kind, &rng), .hands = hands_usual(0), .out = out};
    j.hands.rng = rng;
    for (size_t i = 0; i < j.f.n_strings; i++)
        hands_tune(&j.hands, &j.f, i);
    for (size_t k = 0; k < j.f.n_saddles; k++) {
        double places[2];
        j.best[k] = specimen_best_places(&j.f, k, places);
        rounds_count(out, &j.f, k, j.best[k], 0);
    }
    set_up(&j);
    for (size_t k = 0; k < j.f.n_saddles; k++) {
        for (int moves = j.moves[k] + 1; moves <= ROUNDS_MOST; moves++)
            rounds_count(out, &j.f, k, j.best[k], moves);
        rounds_count_end(out, &j.f, k);
    }
}

/* --- all of it ----------------------------------------------------------------------------------
 */

static void bench_kind(session *script, specimen_kind kind, size_t instruments, uint64_t seed,
                       rounds_result *out) {
    for (size_t k = 0; k < instruments; k++) {
        (void)snprintf(script->name, sizeof script->name, "v%d-%zu-%s", (int)kind, k + 1,
                       script->told ? "told" : "untold");
        if (script->verbose)
            printf("  %s, %s\n", script->name, specimen_name(kind));
        bench_instrument(script, kind, seed + 7919 * k + 101 * (uint64_t)kind, out);
    }
}

static void bench_all(session *script, size_t instruments, uint64_t seed, bool single) {
    if (single)
        rounds_head_single();
    else
        rounds_head_shared();
    rounds_result all = {0};
    for (int kind = 0; kind < SPECIMEN_KINDS; kind++) {
        rounds_result one = {0};
        if (specimen_is_single((specimen_kind)kind) != single)
            continue;
        bench_kind(script, (specimen_kind)kind, instruments, seed, &one);
        rounds_add(&all, &one);
        if (single)
            rounds_print_single(specimen_name((specimen_kind)kind), &one);
        else
            rounds_print_shared(specimen_name((specimen_kind)kind), &one);
        (void)fflush(stdout);
    }
    if (single)
        rounds_print_single("all", &all);
}

/* The program beside this one's folder: build/MODE/setback. */
static void find_program(const char *self, session *out) {
    const char *slash = strrchr(self, '/');
    const int length = slash != NULL ? (int)(slash - self) : 1;
    (void)snprintf(out->program, sizeof out->program, "%.*s/../../setback", length,
                   slash != NULL ? self : ".");
}

static void tidy(const session *script) {
    const char *const names[] = {"take.wav", "book.db", "book.db-journal"};
    char path[TEXT + 32];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", script->folder, names[i]);
        (void)unlink(path);
    }
    (void)rmdir(script->folder);
}

int main(int argc, char *argv[]) {
    const size_t instruments = argc > 1 ? strtoul(argv[1], NULL, 10) : 3;
    const size_t plucks = argc > 2 ? strtoul(argv[2], NULL, 10) : 2;
    const uint64_t seed = argc > 3 ? strtoul(argv[3], NULL, 10) : 1;
    session script = {.folder = "/tmp/bench-session-XXXXXX",
                      .plucks = plucks >= 1 && plucks <= MOST_PLUCKS ? plucks : 2,
                      .told = true,
                      .verbose = argc > 4};
    find_program(argv[0], &script);
    if (mkdtemp(script.folder) == NULL) {
        perror("bench_session: /tmp");
        return 1;
    }
    printf("with sound, through the program; %zu plucks of each note\n", script.plucks);
    puts("true strings in percent, a saddle each, moves told:");
    bench_all(&script, instruments, seed, true);
    puts(
        "shared saddles, moves told: cents by which the largest error exceeds the least possible:");
    bench_all(&script, instruments, seed, false);
    puts("true strings in percent, a saddle each, moves not told:");
    script.told = false;
    bench_all(&script, instruments, seed, true);
    tidy(&script);
    return 0;
}
