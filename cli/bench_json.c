/* The session as JSON Lines, setback.bench/1; fields in DEVELOPERS.md. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/answer.h"
#include "cli/bench_front.h"
#include "cli/err.h"
#include "cli/json_value.h"
#include "cli/print.h"
#include "core/pitch.h"

#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12))

static json_t *text(const char *value) {
    json_t *string = value ? json_string(value) : NULL;
    return string ? string : json_null(); /* no UTF-8, as a file's name may be */
}

static json_t *event(const char *name) {
    return json_pack("{s:s, s:s}", "schema", "setback.bench/1", "event", name);
}

/* Takes both over. */
static void set(json_t *object, const char *key, json_t *value) {
    if (object)
        (void)json_object_set_new(object, key, value);
    else
        json_decref(value);
}

/* Takes the object over. */
static void put(sb_lines *l, json_t *object) {
    l->failed = l->failed || !object;
    if (object && json_dumpf(object, stdout, WRITTEN) == 0) {
        (void)fputc('\n', stdout);
        (void)fflush(stdout);
    }
    json_decref(object);
}

static json_t *note_of(const sb_bench *b, size_t string) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(b->progress.instrument.strings[string - 1].semitone, note, sizeof note);
    return json_string(note);
}

static void set_string(json_t *object, const sb_bench *b, size_t string) {
    set(object, "string", string > 0 ? json_integer((json_int_t)string) : json_null());
    set(object, "note", string > 0 ? note_of(b, string) : json_null());
}

/* --- state ------------------------------------------------------------------------------- */

static json_t *string_state(const sb_bench *b, size_t string) {
    const sb_string_progress *p = &b->progress.strings[string - 1];
    bool read = p->has_reading;
    bool planned = p->state != SB_STRING_STALE && p->plan.cents_per_mm > 0;
    json_t *o = json_object();
    set_string(o, b, string);
    set(o, "octave_error_cents", sb_json_number_if(read, p->reading.cents));
    set(o, "std_error_cents", sb_json_number_if(read, p->reading.std_error));
    set(o, "state", json_string(sb_string_state_text(p->state)));
    set(o, "needed_move_mm", sb_json_number_if(planned, p->plan.move_mm));
    set(o, "needed_std_error_mm", sb_json_number_if(planned, p->plan.std_error_mm));
    set(o, "estimate_cents", sb_json_number_if(planned, p->learner.now.error_cents));
    set(o, "estimate_std_error_cents",
        sb_json_number_if(planned, sqrt(fmax(0, p->learner.now.error_var))));
    set(o, "cents_per_mm", sb_json_number_if(planned, p->plan.cents_per_mm));
    set(o, "gain", sb_json_number(p->learner.now.gain));
    set(o, "before_cents", sb_json_number_if(p->first.std_error > 0, p->first.cents));
    set(o, "before_std_error_cents", sb_json_number_if(p->first.std_error > 0, p->first.std_error));
    set(o, "moves", json_integer(p->learner.moves));
    set(o, "spoiled_by",
        p->state == SB_STRING_STALE ? json_string(sb_change_text(p->spoiled_by)) : json_null());
    set(o, "remark", text(sb_bench_remark(b, string)));
    const sb_new_string *new_one = &b->new_strings[string - 1];
    set(o, "settled",
        new_one->fitted ? json_boolean(new_one->verdict == SB_SETTLE_SETTLED) : json_null());
    return o;
}

static json_t *saddle_state(const sb_bench *b, size_t s) {
    const sb_saddle *saddle = &b->progress.instrument.saddles[s];
    const sb_saddle_progress *at = &b->progress.saddles[s];
    double turns = 0;
    sb_turn turn = SB_TURN_NONE;
    json_t *o = json_object(), *strings = json_array(), *left = json_array();
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        (void)json_array_append_new(strings, json_integer((json_int_t)i));
        (void)json_array_append_new(
            left, sb_json_number_if(at->ready, at->remaining_cents[i - saddle->first]));
    }
    bool turned = at->ready && at->due && at->move_mm == at->end_mm &&
                  sb_bench_turns(b, s, at->move_mm, &turns, &turn);
    set(o, "strings", strings);
    set(o, "fit", json_string(b->options.progress.fit == SB_FIT_LARGEST ? "largest" : "squares"));
    set(o, "move_mm", sb_json_number_if(at->ready, at->move_mm));
    set(o, "end_mm", sb_json_number_if(at->ready, at->end_mm));
    set(o, "remaining_cents", left);
    set(o, "due", json_boolean(at->due));
    set(o, "at_limit", at->ready ? json_boolean(at->at_limit) : json_null());
    set(o, "turns", sb_json_number_if(turned, turns));
    set(o, "turn", turned ? json_string(sb_turn_text(turn)) : json_null());
    return o;
}

static void put_summary(sb_lines *l, const sb_bench *b, const char *name) {
    json_t *o = event(name), *strings = json_array(), *saddles = json_array();
    for (size_t i = 1; i <= b->progress.instrument.n_strings; i++)
        (void)json_array_append_new(strings, string_state(b, i));
    for (size_t s = 0; s < b->progress.instrument.n_saddles; s++)
        (void)json_array_append_new(saddles, saddle_state(b, s));
    size_t next = sb_progress_next(&b->progress, b->last_string);
    set(o, "instrument", text(b->name));
    set(o, "strings", strings);
    set(o, "saddles", saddles);
    set(o, "next_string", next > 0 ? json_integer((json_int_t)next) : json_null());
    put(l, o);
}

/* --- news -------------------------------------------------------------------------------- */

void sb_json_caution(sb_lines *lines, const char *words) {
    json_t *o = event("caution");
    set(o, "text", json_string(words));
    put(lines, o);
}

static void begin(void *context, const sb_bench *b) {
    json_t *o = event("session"), *first = json_object();
    set(o, "instrument", text(b->name));
    set(o, "tolerance_cents", json_real(b->options.progress.tolerance_cents));
    set(o, "fret", json_integer(b->options.progress.fret));
    for (int c = SB_CHANGE_RELIEF; c <= SB_CHANGE_ACTION; c++)
        set(first, sb_change_text((sb_change)c), json_boolean(b->progress.seen[c]));
    set(o, "noted_this_visit", first);
    put(context, o);
}

static void set_heard(json_t *o, const sb_bench *b, const sb_news *news) {
    const sb_reading *r = news->reading;
    set_string(o, b, news->string);
    set(o, "side",
        news->string == 0 ? json_null() : json_string(news->fretted ? "fretted" : "open"));
    set(o, "hz", sb_json_number_if(r->hz > 0, r->hz));
    set(o, "std_error_cents", sb_json_number_if(r->fault == SB_PLUCK_GOOD, r->std_error_cents));
    set(o, "at_s", sb_json_number(news->at_s));
    set(o, "take", text(news->take));
}

static void tell_note(sb_lines *l, const sb_bench *b, const sb_news *news) {
    double cents = 0;
    json_t *o = event(news->kind == SB_NEWS_LEFT_OUT    ? "left out"
                      : news->kind == SB_NEWS_UNDECIDED ? "undecided"
                                                        : "note");
    set_heard(o, b, news);
    if (news->kind == SB_NEWS_LEFT_OUT)
        set(o, "reason", json_string(news->text));
    else if (news->kind == SB_NEWS_NOTE)
        set(o, "detune_cents",
            sb_json_number_if(!news->fretted && sb_bench_detune(b, news->string, &cents), cents));
    put(l, o);
}

static void tell_reading(sb_lines *l, const sb_bench *b, const sb_news *news) {
    const sb_interval *i = news->interval;
    json_t *o = event("reading"), *state = string_state(b, news->string);
    if (o && state)
        (void)json_object_update(o, state);
    json_decref(state);
    set(o, "plucks", json_pack("[I, I]", (json_int_t)i->n_open, (json_int_t)i->n_fretted));
    set(o, "drift_cents_per_min", sb_json_number_if(i->drift_fitted, i->drift_cents_per_min));
    put(l, o);
    if (!l->cautioned && b->progress.strings[news->string - 1].state == SB_STRING_DUE) {
        l->cautioned = true;
        sb_json_caution(l, SB_BENCH_CAUTION);
    }
}

static void tell_move(sb_lines *l, const sb_bench *b, const sb_news *news) {
    const sb_saddle *saddle =
        &b->progress.instrument.saddles[sb_progress_saddle(&b->progress, news->string)];
    json_t *o = event("moved"), *strings = json_array();
    for (size_t i = saddle->first; i <= saddle->last; i++)
        (void)json_array_append_new(strings, json_integer((json_int_t)i));
    set(o, "strings", strings);
    set(o, "move_mm", sb_json_number(news->move_mm));
    set(o, "end_mm", sb_json_number(news->end_mm));
    set(o, "inferred", json_boolean(news->inferred));
    put(l, o);
}

static void tell_change(sb_lines *l, const sb_bench *b, const sb_news *news) {
    json_t *o = event("changed");
    set(o, "what", json_string(sb_change_text(news->change)));
    set_string(o, b, news->string);
    put(l, o);
}

static void tell_settling(sb_lines *l, const sb_bench *b, const sb_news *news) {
    json_t *o = event("settling");
    set_string(o, b, news->string);
    set(o, "verdict", json_string(sb_settle_text(news->settling.kind)));
    set(o, "drift_cents_per_min", sb_json_number(news->settling.drift_cents_per_min));
    set(o, "drift_std_error", sb_json_number(news->settling.std_error));
    put(l, o);
}

static void tell(void *context, const sb_bench *b, const sb_news *news) {
    switch (news->kind) {
    case SB_NEWS_SOUNDING: break;
    case SB_NEWS_NOTE:
    case SB_NEWS_UNDECIDED:
    case SB_NEWS_LEFT_OUT: tell_note(context, b, news); break;
    case SB_NEWS_READING: tell_reading(context, b, news); break;
    case SB_NEWS_MOVED: tell_move(context, b, news); break;
    case SB_NEWS_CHANGED: tell_change(context, b, news); break;
    case SB_NEWS_SETTLING: tell_settling(context, b, news); break;
    case SB_NEWS_NOTED: put(context, event("noted")); break;
    case SB_NEWS_ELSEWHERE: put(context, event("elsewhere")); break;
    }
}

static void trouble(void *context, const char *what, const char *subject) {
    json_t *o = event("trouble");
    set(o, "what", json_string(what));
    set(o, "subject", text(subject));
    put(context, o);
    sb_warn(subject, "%s", what);
}

static void show(void *context, const sb_bench *b, bool help) {
    if (help)
        (void)fputs(sb_order_help(), sb_messages());
    else
        put_summary(context, b, "state");
}

static bool end(void *context, const sb_bench *b) {
    put_summary(context, b, "summary");
    return !((sb_lines *)context)->failed;
}

sb_front sb_json_front(sb_lines *lines) {
    return (sb_front){lines, begin, tell, trouble, sb_lines_typed, NULL, show, end};
}
