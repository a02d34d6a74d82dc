/* The session without sound: readings are made up for an invented instrument whose saddles
 * answer by laws of this file's own, and the book is looked at afterwards. */
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cli/bench.h"
#include "tests/support/prng.h"
#include "tests/support/scratch.h"
#include "tests/support/within.h"

#define STRINGS 6

typedef struct {
    char folder[SCRATCH_MAX], path[80];
    sb_book *book;
    int64_t id;
    sb_bench *bench;
    double now_s;
    int notes, readings, moved, inferred, undecided, left_out, elsewhere, stretch, settled;
} fixture;

static const double open_hz[STRINGS] = {329.628, 246.942, 195.998, 146.832, 110.0, 82.407};

static void hear_news(void *context, const sb_bench *bench, const sb_news *news) {
    fixture *f = context;
    (void)bench;
    f->notes += news->kind == SB_NEWS_NOTE;
    f->undecided += news->kind == SB_NEWS_UNDECIDED;
    f->readings += news->kind == SB_NEWS_READING;
    f->moved += news->kind == SB_NEWS_MOVED && !news->inferred;
    f->inferred += news->kind == SB_NEWS_MOVED && news->inferred;
    f->left_out += news->kind == SB_NEWS_LEFT_OUT;
    f->elsewhere += news->kind == SB_NEWS_ELSEWHERE;
    if (news->kind == SB_NEWS_SETTLING) {
        f->stretch += news->settling.kind == SB_SETTLE_STRETCH;
        f->settled += news->settling.kind == SB_SETTLE_SETTLED;
    }
}

static sb_bench *session(fixture *f) {
    sb_bench_options options = {
        .progress = sb_progress_default(), .a4_hz = 440, .tell = hear_news, .context = f};
    sb_bench *bench = NULL;
    assert_int_equal(sb_bench_new(&options, f->book, f->id, "one", &bench), SB_BOOK_OK);
    return bench;
}

static void resume(fixture *f) {
    sb_bench_free(f->bench);
    f->bench = session(f);
}

/* In memory where the machine has it: what a commit costs is no matter here. */
static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    sb_description d = {.owner = ""};
    sb_kind_instrument(sb_kind_named("electric"), &d.instrument);
    if (!scratch_make(f->folder, SCRATCH_IN_MEMORY))
        return -1;
    (void)snprintf(f->path, sizeof f->path, "%s/book.db", f->folder);
    *state = f;
    if (sb_book_open(f->path, SB_BOOK_WRITE, &f->book) != SB_BOOK_OK ||
        sb_book_add(f->book, "one", &d, sb_book_now_ms(), &f->id) != SB_BOOK_OK)
        return -1;
    f->bench = session(f);
    return 0;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sb_bench_free(f->bench);
    sb_book_close(f->book);
    int code = scratch_remove(f->folder);
    free(f);
    return code;
}

static void note(fixture *f, double hz) {
    sb_reading r = {.hz = hz, .std_error_cents = 0.02, .level_dbfs = -20, .start_s = f->now_s};
    assert_int_equal(sb_bench_hear(f->bench, &r, f->now_s), SB_BOOK_OK);
    f->now_s += 3;
}

static double raised(double hz, double cents) {
    return hz * exp2(cents / 1200);
}

/* n plucks of each, in turn. */
static void play(fixture *f, size_t string, double error_cents, int n) {
    for (int i = 0; i < n; i++) {
        note(f, open_hz[string - 1]);
        note(f, raised(2 * open_hz[string - 1], error_cents));
    }
}

static void say(fixture *f, const char *line) {
    sb_order order;
    const char *fault = sb_order_parse(line, &order);
    assert_null(fault);
    assert_int_equal(sb_bench_do(f->bench, &order, &fault), SB_BOOK_OK);
    assert_null(fault);
}

static void refuses(fixture *f, const char *line) {
    sb_order order;
    const char *fault = sb_order_parse(line, &order);
    assert_null(fault);
    assert_int_equal(sb_bench_do(f->bench, &order, &fault), SB_BOOK_BAD_DATA);
    assert_non_null(fault);
}

static const char *state_of(const fixture *f, size_t string) {
    return sb_string_state_text(f->bench->progress.strings[string - 1].state);
}

static void test_the_normal_round(void **state) {
    fixture *f = *state;
    play(f, 6, 4.6, 2);
    assert_int_equal(f->readings, 3);
    assert_string_equal(state_of(f, 6), "move due");
    assert_within(f->bench->progress.strings[5].reading.cents, 4.6, 1e-6);
    assert_within(f->bench->progress.saddles[5].move_mm, 1.71, 0.01);
    say(f, "moved 6 1.7 back");
    assert_string_equal(state_of(f, 6), "moved");
    play(f, 6, 0.1, 2);
    assert_string_equal(state_of(f, 6), "true");
    assert_int_equal(f->moved, 1);
    assert_int_equal(f->inferred, 0);
}

static void test_a_session_goes_on_where_it_stopped(void **state) {
    fixture *f = *state;
    play(f, 6, 4.6, 2);
    play(f, 5, 0.2, 2);
    play(f, 4, -3.0, 2);
    say(f, "moved 4 as asked");
    const sb_progress before = f->bench->progress;
    resume(f);
    for (size_t i = 0; i < STRINGS; i++) {
        const sb_string_progress *was = &before.strings[i], *is = &f->bench->progress.strings[i];
        assert_int_equal(is->state, was->state);
        assert_within(is->plan.move_mm, was->plan.move_mm, 1e-9);
        assert_within(is->learner.now.error_cents, was->learner.now.error_cents, 1e-9);
    }
    assert_string_equal(state_of(f, 4), "moved");
}

static void test_a_move_that_nobody_tells(void **state) {
    fixture *f = *state;
    play(f, 6, 4.6, 2);
    f->now_s += 60;
    play(f, 6, 0.1, 2);
    assert_true(f->inferred >= 1);
    assert_string_equal(state_of(f, 6), "true");
    resume(f);
    assert_string_equal(state_of(f, 6), "true");
    assert_within(f->bench->progress.saddles[5].moved_mm, 1.67, 0.02);
}

static void test_what_spoils_readings(void **state) {
    fixture *f = *state;
    play(f, 6, 0.1, 2);
    play(f, 5, 0.2, 2);
    say(f, "changed strings 5");
    assert_string_equal(state_of(f, 5), "stale");
    assert_string_equal(state_of(f, 6), "true");
    say(f, "changed relief");
    assert_string_equal(state_of(f, 6), "stale");
    resume(f);
    assert_string_equal(state_of(f, 6), "stale");
    play(f, 6, 0.1, 2);
    assert_string_equal(state_of(f, 6), "true");
    sb_description d;
    assert_int_equal(sb_book_describe(f->book, f->id, &d), SB_BOOK_OK);
    d.instrument.strings[5].semitone -= 1;
    assert_int_equal(sb_book_edit(f->book, f->id, NULL, &d, sb_book_now_ms()), SB_BOOK_OK);
    assert_int_equal(sb_bench_refresh(f->bench), SB_BOOK_OK);
    assert_string_equal(state_of(f, 6), "stale");
    assert_int_equal(f->elsewhere, 1);
}

/* Plucks before a change are never compared with plucks after it. */
static void test_rounds_end_with_a_change(void **state) {
    fixture *f = *state;
    note(f, open_hz[5]);
    say(f, "changed action");
    note(f, 2 * open_hz[5]);
    assert_int_equal(f->readings, 0);
    note(f, open_hz[5]);
    assert_int_equal(f->readings, 1);
}

static void test_two_sessions_see_each_other(void **state) {
    fixture *f = *state;
    fixture other = {.now_s = 0, .id = f->id};
    assert_int_equal(sb_book_open(f->path, SB_BOOK_WRITE, &other.book), SB_BOOK_OK);
    other.bench = session(&other);
    play(f, 6, 4.6, 2);
    play(&other, 5, 3.0, 2);
    say(&other, "moved 6 1.7 back");
    assert_string_equal(state_of(&other, 6), "moved");
    play(f, 6, 0.1, 2);
    assert_int_equal(sb_bench_refresh(other.bench), SB_BOOK_OK);
    for (size_t i = 1; i <= STRINGS; i++)
        assert_string_equal(state_of(f, i), state_of(&other, i));
    assert_string_equal(state_of(f, 6), "true");
    assert_string_equal(state_of(f, 5), "move due");
    /* Both read the same string: two rounds, each counted once. */
    f->now_s += 60;
    other.now_s = f->now_s;
    play(f, 3, 2.0, 2);
    play(&other, 3, 2.0, 2);
    assert_int_equal(sb_bench_refresh(f->bench), SB_BOOK_OK);
    const sb_string_progress *mine = &f->bench->progress.strings[2];
    assert_within(mine->learner.now.error_var,
                  other.bench->progress.strings[2].learner.now.error_var, 1e-15);
    assert_within(mine->learner.now.error_var, pow(mine->reading.std_error, 2) / 2, 1e-12);
    sb_bench_free(other.bench);
    sb_book_close(other.book);
}

static void test_new_strings_settle(void **state) {
    fixture *f = *state;
    say(f, "changed strings");
    for (int i = 0; i < 5; i++) {
        note(f, raised(open_hz[0], -1.5 * i));
        f->now_s += 5;
    }
    assert_int_equal(f->stretch, 1);
    for (int i = 0; i < 8; i++) {
        note(f, raised(open_hz[0], 0.05 * (i % 2)));
        f->now_s += 5;
    }
    assert_int_equal(f->settled, 1);
    assert_false(sb_bench_strings_in(f->bench));
    resume(f); /* another session knows it too */
    assert_int_equal(f->bench->new_strings[0].verdict, SB_SETTLE_SETTLED);
    assert_int_equal(f->bench->new_strings[1].verdict, SB_SETTLE_UNKNOWN);
}

/* Plucks of two recordings lie on no common time line: these would seem to fall. */
static void test_a_take_begins_the_watch_anew(void **state) {
    fixture *f = *state;
    say(f, "changed strings");
    for (int take = 0; take < 3; take++) {
        sb_bench_take(f->bench, take % 2 ? "one.wav" : "two.wav");
        f->now_s = 5 + 40 * take; /* as one line, -2 cents a minute */
        for (int i = 0; i < 2; i++)
            note(f, raised(open_hz[0], -1.5 * take));
    }
    assert_int_equal(f->stretch + f->settled, 0);
}

/* Settled first, then measured: a reading from while it stretched is not enough. */
static void test_when_all_new_strings_are_in(void **state) {
    fixture *f = *state;
    sb_string set[STRINGS];
    const char *fault = NULL;
    memcpy(set, f->bench->progress.instrument.strings, sizeof set);
    set[0].gauge_mm = 0.2286;
    assert_int_equal(sb_bench_restring(f->bench, set, true, &fault), SB_BOOK_OK);
    assert_within(f->bench->progress.instrument.strings[0].gauge_mm, 0.254, 1e-12);
    assert_int_equal(sb_bench_restring(f->bench, set, false, &fault), SB_BOOK_OK);
    assert_within(f->bench->progress.instrument.strings[0].gauge_mm, 0.2286, 1e-12);
    for (size_t s = 1; s <= STRINGS; s++) {
        assert_false(sb_bench_strings_in(f->bench));
        play(f, s, 0.5, 8); /* 45 s */
        if (s == 1)
            resume(f);
    }
    assert_int_equal(f->settled, STRINGS);
    assert_true(sb_bench_strings_in(f->bench));
    set[0].gauge_mm = -1;
    assert_int_equal(sb_bench_restring(f->bench, set, false, &fault), SB_BOOK_BAD_DATA);
    assert_non_null(fault);
}

static bool last_id(void *context, const sb_event *event) {
    *(int64_t *)context = event->id;
    return true;
}

/* A session aside hears and tells, and leaves the log and the state alone; it can look at the log
 * as it was. */
static void test_aside(void **state) {
    fixture *f = *state;
    int64_t then = 0, before = 0, after = 0;
    play(f, 1, 4.0, 2);
    assert_int_equal(sb_book_read(f->book, f->id, 0, last_id, &then), SB_BOOK_OK);
    play(f, 2, 3.0, 2);
    assert_int_equal(sb_book_read(f->book, f->id, 0, last_id, &before), SB_BOOK_OK);
    sb_bench_options options = {.progress = sb_progress_default(),
                                .a4_hz = 440,
                                .aside = true,
                                .until = then,
                                .tell = hear_news,
                                .context = f};
    sb_bench_free(f->bench);
    assert_int_equal(sb_bench_new(&options, f->book, f->id, "one", &f->bench), SB_BOOK_OK);
    assert_true(f->bench->progress.strings[0].has_reading);
    assert_false(f->bench->progress.strings[1].has_reading);
    f->readings = 0;
    play(f, 3, 2.0, 2);
    assert_true(f->readings > 0);
    assert_false(f->bench->progress.strings[2].has_reading);
    assert_int_equal(sb_book_read(f->book, f->id, 0, last_id, &after), SB_BOOK_OK);
    assert_int_equal(after, before);
}

static void test_orders_that_cannot_be(void **state) {
    fixture *f = *state;
    refuses(f, "moved 1.7 back");
    refuses(f, "moved 3");
    refuses(f, "moved all");
    refuses(f, "moved 7 1.0 back");
    refuses(f, "moved 3 2 turns clockwise"); /* no thread */
    refuses(f, "moved 3 1.0,2.0 back");      /* no slant */
    refuses(f, "string 9");
    refuses(f, "changed nut 9");
}

static void test_foreign_notes_are_left_out(void **state) {
    fixture *f = *state;
    note(f, 61.0);
    note(f, 1300.0);
    sb_reading bad = {.fault = SB_PLUCK_CLIPPED, .start_s = f->now_s};
    assert_int_equal(sb_bench_hear(f->bench, &bad, f->now_s), SB_BOOK_OK);
    assert_int_equal(sb_bench_settle(f->bench), SB_BOOK_OK);
    assert_int_equal(f->left_out, 3);
    assert_int_equal(f->readings, 0);
}

/* A semitone above G3 and a semitone below the octave of A2: its own octave tells. */
static void test_a_note_waits_for_its_octave(void **state) {
    fixture *f = *state;
    note(f, raised(open_hz[2], 100));
    assert_int_equal(f->undecided, 1);
    assert_int_equal(f->notes, 0);
    note(f, raised(2 * open_hz[2], 104));
    assert_int_equal(f->notes, 2);
    assert_int_equal(f->readings, 1);
    assert_within(f->bench->progress.strings[2].reading.cents, 4, 1e-6);
}

/* --- the loop closed --------------------------------------------------------------------- */

typedef struct {
    double error, gain, slope; /* of one string; slope in cents per mm */
    int moves;
} simulated;

static void play_simulated(fixture *f, size_t i, const simulated *s, prng *random) {
    const double tuned = raised(open_hz[i], 1.0 * prng_normal(random));
    for (int k = 0; k < 3; k++) {
        note(f, raised(tuned, 0.3 * prng_normal(random)));
        note(f, raised(2 * tuned, s->error + 0.3 * prng_normal(random)));
    }
    f->now_s += 60;
}

static size_t count_true(const simulated s[]) {
    size_t n = 0;
    for (size_t i = 0; i < STRINGS; i++)
        n += fabs(s[i].error) <= 1;
    return n;
}

/* Random errors of 8 cents spread; the saddles keep their gains, spread by 3 %, from visit to
 * visit; the hand 0.1 mm, plucks 0.3 cents, three of each. Half of the moves are told. The saddle
 * answers straight here: 2.673 cents a millimetre is the rule of thumb's at 647.7 mm. */
static void test_true_in_the_fewest_moves(void **state) {
    fixture *f = *state;
    prng random = prng_seeded(11);
    size_t after[3] = {0}, all = 0, moves = 0;
    double gains[STRINGS];
    for (size_t i = 0; i < STRINGS; i++)
        gains[i] = 1 + 0.03 * prng_normal(&random);
    for (int trial = 0; trial < 40; trial++) {
        simulated s[STRINGS];
        say(f, "visit");
        for (size_t i = 0; i < STRINGS; i++)
            s[i] = (simulated){3 + 8 * prng_normal(&random), gains[i], 2.673, 0};
        for (int round = 0; round < 3; round++) {
            for (size_t i = 0; i < STRINGS; i++)
                if (round == 0 || strcmp(state_of(f, i + 1), "true") != 0)
                    play_simulated(f, i, &s[i], &random);
            after[round] += count_true(s);
            for (size_t i = 0; i < STRINGS; i++) {
                const sb_saddle_progress *at = &f->bench->progress.saddles[i];
                if (!at->due || round == 2)
                    continue;
                const double made = at->move_mm + 0.1 * prng_normal(&random);
                char line[40];
                (void)snprintf(line, sizeof line, "moved %zu=%.2f", i + 1, at->move_mm);
                if (trial % 2 == 0)
                    say(f, line);
                s[i].error -= s[i].gain * s[i].slope * made;
                s[i].moves++;
                moves++;
            }
        }
        all += STRINGS;
    }
    print_message("true at first %.3f, after one move %.3f, after two %.3f; %.2f moves a string\n",
                  (double)after[0] / (double)all, (double)after[1] / (double)all,
                  (double)after[2] / (double)all, (double)moves / (double)all);
    /* 1800 strings of such benches gave 96.2 and 98.9 %; these 240 have room for chance. */
    assert_true((double)after[1] / (double)all >= 0.92);
    assert_true((double)after[2] / (double)all >= 0.98);
}

/* --- kill -9 ----------------------------------------------------------------------------- */

static void report_saved(void *context, const sb_bench *bench, const sb_news *news) {
    (void)bench;
    if (news->kind == SB_NEWS_NOTE && write(*(int *)context, "n", 1) != 1)
        _exit(1);
}

static void play_until_killed(const char *path, int64_t id, int out) {
    sb_book *book = NULL;
    sb_bench *bench = NULL;
    sb_bench_options options = {
        .progress = sb_progress_default(), .a4_hz = 440, .tell = report_saved, .context = &out};
    if (sb_book_open(path, SB_BOOK_WRITE, &book) != SB_BOOK_OK ||
        sb_bench_new(&options, book, id, "one", &bench) != SB_BOOK_OK)
        _exit(1);
    for (int i = 0;; i++) {
        const double hz = open_hz[i / 2 % STRINGS] * (i % 2 ? 2 : 1);
        sb_reading r = {.hz = hz, .std_error_cents = 0.02, .start_s = 3.0 * i};
        if (sb_bench_hear(bench, &r, r.start_s) != SB_BOOK_OK)
            _exit(1);
    }
}

static bool count_pluck(void *context, const sb_event *event) {
    *(int *)context += event->kind == SB_EVENT_PLUCK;
    return true;
}

/* At many moments of a session: every pluck that was told is in the book. */
static void test_killed_at_any_moment(void **state) {
    fixture *f = *state;
    int told = 0;
    prng random = prng_seeded(5);
    for (int trial = 0; trial < 40; trial++) {
        int ends[2], plucks = 0;
        char byte;
        assert_int_equal(pipe(ends), 0);
        const pid_t child = fork();
        if (child == 0) {
            (void)close(ends[0]);
            play_until_killed(f->path, f->id, ends[1]);
        }
        (void)close(ends[1]);
        for (int i = 1 + (int)(prng_next(&random) % 12); i > 0; i--)
            told += read(ends[0], &byte, 1) == 1;
        for (uint64_t spin = prng_next(&random) % 200000; spin > 0; spin--)
            __asm__ volatile("");
        assert_int_equal(kill(child, SIGKILL), 0);
        while (read(ends[0], &byte, 1) == 1)
            told++;
        int how = 0;
        (void)waitpid(child, &how, 0);
        assert_true(WIFSIGNALED(how));
        (void)close(ends[0]);
        assert_int_equal(sb_book_read(f->book, f->id, 0, count_pluck, &plucks), SB_BOOK_OK);
        assert_true(plucks >= told);
        assert_true(plucks <= told + trial + 1); /* one may have been saved and not told */
    }
    assert_true(told > 40);
}

/* --- orders in words --------------------------------------------------------------------- */

typedef struct {
    const char *line;
    size_t string;
    bool as_asked, in_turns;
    double amount, end;
} spoken;

static void test_moves_in_words(void **state) {
    (void)state;
    const spoken cases[] = {
        {"moved", 0, true, false, 0, 0},
        {"moved 3", 3, true, false, 0, 0},
        {"moved 3 as asked", 3, true, false, 0, 0},
        {"moved as asked", 0, true, false, 0, 0},
        {"moved 1.7 back", 0, false, false, 1.7, 1.7},
        {"moved 2 back", 0, false, false, 2, 2},
        {"moved 3 1.7 back", 3, false, false, 1.7, 1.7},
        {"moved string 3 1.7 back", 3, false, false, 1.7, 1.7},
        {"moved 3=1.7mm", 3, false, false, 1.7, 1.7},
        {"moved 3=-0.5mm", 3, false, false, -0.5, -0.5},
        {"moved 3 -0.5", 3, false, false, -0.5, -0.5},
        {"moved 0.5mm forward", 0, false, false, -0.5, -0.5},
        {"moved 3=1/64in back", 3, false, false, 0.396875, 0.396875},
        {"moved 5-6=1.4", 5, false, false, 1.4, 1.4},
        {"moved 1-6 1.2,0.4 back", 1, false, false, 1.2, 0.4},
        {"moved 1-6=1.2,-0.4", 1, false, false, 1.2, -0.4},
        {"moved 2 1/4 turns clockwise", 0, false, true, 2.25, 0},
        {"moved 3=2 1/4 turns clockwise", 3, false, true, 2.25, 0},
        {"moved 3 1 turn anticlockwise", 3, false, true, 1, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sb_order o;
        const char *fault = sb_order_parse(cases[i].line, &o);
        if (fault)
            fail_msg("%s: %s", cases[i].line, fault);
        assert_int_equal(o.kind, SB_ORDER_MOVED);
        assert_int_equal(o.string, cases[i].string);
        assert_int_equal(o.as_asked, cases[i].as_asked);
        assert_int_equal(o.in_turns, cases[i].in_turns);
        assert_within(o.in_turns ? o.turns : o.move_mm, cases[i].amount, 1e-12);
        assert_within(o.end_mm, cases[i].end, 1e-12);
    }
}

static void test_words_that_are_none(void **state) {
    (void)state;
    const char *const lines[] = {
        "",
        "  ",
        "move 3",
        "moved back",
        "moved 3 much",
        "moved 3 -1 back",
        "moved 3 400",
        "moved 3 2 turns",
        "moved all 3",
        "moved 0",
        "changed",
        "changed weather",
        "changed visit",
        "changed relief x",
        "string",
        "string x",
        "string 1 2",
        "note",
        "note  ",
        "take",
        "moved 1.2,x back",
        "moved 0 turns clockwise",
        "moved 400 turns clockwise",
        "moved 3 nan",
        "moved 25 1.0",
    };
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        sb_order o;
        if (!sb_order_parse(lines[i], &o))
            fail_msg("%s was taken", lines[i]);
    }
    sb_order o;
    assert_null(sb_order_parse("note the nut is worn", &o));
    assert_string_equal(o.text, "the nut is worn");
    assert_null(sb_order_parse("changed nut string 2", &o));
    assert_int_equal(o.string, 2);
    assert_null(sb_order_parse("string any", &o));
    assert_int_equal(o.string, 0);
}

#define WITH_BOOK(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_BOOK(test_the_normal_round),
        WITH_BOOK(test_a_session_goes_on_where_it_stopped),
        WITH_BOOK(test_a_move_that_nobody_tells),
        WITH_BOOK(test_what_spoils_readings),
        WITH_BOOK(test_rounds_end_with_a_change),
        WITH_BOOK(test_two_sessions_see_each_other),
        WITH_BOOK(test_new_strings_settle),
        WITH_BOOK(test_a_take_begins_the_watch_anew),
        WITH_BOOK(test_when_all_new_strings_are_in),
        WITH_BOOK(test_aside),
        WITH_BOOK(test_orders_that_cannot_be),
        WITH_BOOK(test_foreign_notes_are_left_out),
        WITH_BOOK(test_a_note_waits_for_its_octave),
        WITH_BOOK(test_true_in_the_fewest_moves),
        WITH_BOOK(test_killed_at_any_moment),
        cmocka_unit_test(test_moves_in_words),
        cmocka_unit_test(test_words_that_are_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
