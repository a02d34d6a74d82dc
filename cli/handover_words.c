/* The sheet's sentences, for a player who was not there. What to expect and the cautions are
 * common practice, no source. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cli/handover.h"

#define LIST_MAX  2000
#define NAMED_MAX 4 /* strings named one by one in a sentence */

/* --- pieces ---------------------------------------------------------------------------- */

static void add(char *text, const char *format, ...) SB_PRINTF(2, 3);

static void add(char *text, const char *format, ...) {
    size_t used = strlen(text);
    va_list values;
    va_start(values, format);
    (void)vsnprintf(text + used, LIST_MAX - used, format, values);
    va_end(values);
}

/* "string 2", "strings 1, 2 and 5", "all strings"; "" for none. Returns how many. */
static size_t list_strings(const bool chosen[], size_t n, char *text) {
    size_t count = 0, done = 0;
    for (size_t i = 0; i < n; i++)
        count += chosen[i];
    text[0] = '\0';
    if (count == n && n > 1) {
        add(text, "all strings");
        return count;
    }
    for (size_t i = 0; i < n; i++) {
        if (!chosen[i])
            continue;
        add(text, "%s%zu",
            done == 0           ? count > 1 ? "strings " : "string "
            : done + 1 == count ? " and "
                                : ", ",
            i + 1);
        done++;
    }
    return count;
}

/* "string 6 (E2) 8.9 cents sharp" */
static void add_error(const sb_handover *h, size_t i, double cents, const char *verb, char *text) {
    bool known = fabs(cents) < 9999.95;
    add(text, "string %zu (%s)%s %s%.1f cents %s", i + 1, h->strings[i].note, verb,
        known ? "" : "over ", known ? fabs(cents) : 9999, cents > 0 ? "sharp" : "flat");
}

static void tolerance_text(const sb_handover *h, char *text, size_t size) {
    (void)snprintf(text, size, "\u00b1%g cent%s", h->tolerance_cents,
                   h->tolerance_cents == 1 ? "" : "s");
}

static bool within(const sb_handover *h, double cents) {
    return fabs(cents) <= h->tolerance_cents;
}

/* --- how it is now --------------------------------------------------------------------- */

static void say_result(sb_handover *h) {
    size_t n = h->instrument.n_strings, in = 0, out = 0, known = 0;
    char rest[LIST_MAX] = "", tolerance[40];
    tolerance_text(h, tolerance, sizeof tolerance);
    for (size_t i = 0; i < n; i++) {
        const sb_handover_string *s = &h->strings[i];
        bool is_in = s->after_known && within(h, s->after.cents);
        known += s->after_known;
        in += is_in;
        if (!s->after_known || is_in || out++ >= NAMED_MAX)
            continue;
        add(rest, "%s", out > 1 ? ", " : "; ");
        add_error(h, i, s->after.cents, out == 1 ? " stays" : "", rest);
    }
    const char *others =
        out > NAMED_MAX ? "; how far the others are out stands in the table" : rest;
    if (known < n)
        h->result =
            sb_phrase("Not finished: %zu of %zu strings %s yet to be measured as they are now.",
                      n - known, n, n - known == 1 ? "has" : "have");
    else if (in == n)
        h->result = sb_phrase("%s now plays true at fret %d, to within %s.",
                              n == 1 ? "The string" : "Every string", h->fret, tolerance);
    else if (in == 0)
        h->result = sb_phrase("No string plays true at fret %d to within %s%s.", h->fret, tolerance,
                              out > NAMED_MAX ? "; how far each is out stands in the table" : rest);
    else
        h->result = sb_phrase("%zu of %zu strings now play%s true at fret %d, to within %s%s.", in,
                              n, in == 1 ? "s" : "", h->fret, tolerance, others);
}

/* --- found ----------------------------------------------------------------------------- */

static void say_found(sb_handover *h) {
    size_t n = h->instrument.n_strings, in = 0, known = 0, worst = 0;
    char furthest[LIST_MAX] = "", tolerance[40];
    for (size_t i = 0; i < n; i++) {
        const sb_handover_string *s = &h->strings[i];
        if (!s->before_known)
            continue;
        in += within(h, s->before.cents);
        if (known++ == 0 || fabs(s->before.cents) > fabs(h->strings[worst].before.cents))
            worst = i;
    }
    tolerance_text(h, tolerance, sizeof tolerance);
    if (known == 0)
        return;
    add_error(h, worst, h->strings[worst].before.cents, known == 1 ? " was" : ",", furthest);
    if (in == known)
        sb_say(&h->found, "All strings measured were within %s at fret %d.", tolerance, h->fret);
    else if (known == 1)
        sb_say(&h->found, "S%s at fret %d.", furthest + 1, h->fret);
    else
        sb_say(&h->found, "%zu of %zu strings %s within %s at fret %d; furthest out was %s.", in,
               known, in == 1 ? "was" : "were", tolerance, h->fret, furthest);
    if (h->found.failed)
        return;
    char *whole = h->found.item[h->found.n - 1]; /* before what was said of single strings */
    memmove(h->found.item + 1, h->found.item, (h->found.n - 1) * sizeof whole);
    h->found.item[0] = whole;
}

/* --- done ------------------------------------------------------------------------------ */

static void say_moves(sb_handover *h) {
    bool moved[SB_STRINGS_MAX] = {false};
    char list[LIST_MAX], move[80];
    size_t n = h->instrument.n_strings, last = 0;
    for (size_t i = 0; i < n; i++) {
        sb_handover_move_text(h->strings[i].moved_mm, move, sizeof move);
        moved[i] = move[0] != '\0';
        last = moved[i] ? i : last;
    }
    size_t count = list_strings(moved, n, list);
    if (count == 0) {
        sb_say(&h->done, "No saddle was moved.");
    } else if (count == 1) {
        sb_handover_move_text(h->strings[last].moved_mm, move, sizeof move);
        sb_say(&h->done, "The saddle of %s was moved %s.", list, move);
    } else {
        sb_say(&h->done, "The saddles of %s were moved; the table says how far.", list);
    }
}

static void say_done(sb_handover *h) {
    char list[LIST_MAX];
    if (list_strings(h->fitted, h->instrument.n_strings, list) > 0)
        sb_say(&h->done, "New strings were fitted: %s.", list);
    if (h->changed[SB_CHANGE_RELIEF])
        sb_say(&h->done, "The relief of the neck, its slight bow, was set anew.");
    if (h->changed[SB_CHANGE_NUT])
        sb_say(&h->done, "The nut or its slots were worked on.");
    if (h->changed[SB_CHANGE_ACTION])
        sb_say(&h->done, "The action, the height of the strings, was set anew.");
    if (h->changed[SB_CHANGE_TUNING])
        sb_say(&h->done, "The tuning was changed.");
    say_moves(h);
}

/* --- what remains ---------------------------------------------------------------------- */

/* The strings of a shared saddle, added to what is said of all of them; false where there is
 * nothing to explain. */
static bool add_shared(const sb_handover *h, const sb_saddle *s, char *text) {
    bool all_in = true;
    for (size_t i = s->first - 1; i < s->last; i++) {
        if (!h->strings[i].after_known)
            return false;
        all_in = all_in && within(h, h->strings[i].after.cents);
    }
    for (size_t i = s->first - 1; i < s->last && !all_in; i++) {
        bool first = text[0] == '\0';
        add(text, "%s", first ? "" : i + 1 == s->first ? "; " : ", ");
        add_error(h, i, h->strings[i].after.cents, first ? " stays" : "", text);
    }
    return !all_in;
}

/* One sentence for all of them; `due`: some could be set better. */
static void say_shared(sb_handover *h, const char *errors, bool due, size_t saddles) {
    const char *place = due ? "could still be set better"
                        : h->fit == SB_FIT_LARGEST
                            ? "stands where the largest error on it is as small as it can be"
                            : "stands where the errors on it are smallest together";
    if (saddles > 0)
        sb_say(&h->remains,
               "Strings that share a saddle cannot all be right, for it can only stand in one "
               "place: %s %s, so %s.",
               saddles == 1 ? "it"
               : due        ? "one or another"
                            : "each",
               place, errors);
}

static void say_alone(const sb_bench *bench, sb_handover *h, size_t i, bool due) {
    const sb_handover_string *s = &h->strings[i];
    const sb_saddle *saddle = &h->instrument.saddles[s->saddle];
    char error[LIST_MAX] = "";
    if (!s->after_known || within(h, s->after.cents))
        return;
    add_error(h, i, s->after.cents, " stays", error);
    error[0] = 'S';
    if (s->state == SB_STRING_STUCK)
        sb_say(&h->remains, "%s: its saddle can%s; what would help: %s.", error,
               saddle->way == SB_WAY_FIXED ? "not be moved" : " go no further",
               sb_bench_beyond_travel(bench, i + 1));
    else
        sb_say(&h->remains, "%s%s.", error,
               due ? ": another move of its saddle would mend that"
                   : ", which is no more than a hand can set or a reading can tell");
}

/* Its reading stands, but is of a string that does not hold its pitch yet. */
static void say_stretching(const sb_bench *bench, sb_handover *h) {
    bool still[SB_STRINGS_MAX] = {false};
    char list[LIST_MAX];
    for (size_t i = 0; i < h->instrument.n_strings; i++)
        still[i] = h->fitted[i] && bench->new_strings[i].verdict == SB_SETTLE_STRETCH;
    size_t count = list_strings(still, h->instrument.n_strings, list);
    if (count > 0)
        sb_say(&h->remains,
               "Still stretching when last heard: %s. What the table says of %s pitch.", list,
               count == 1 ? "it holds once it keeps its" : "them holds once they keep their");
}

static void say_remains(const sb_bench *bench, sb_handover *h) {
    char errors[LIST_MAX] = "";
    bool due = false;
    size_t shared = 0;
    for (size_t s = 0; s < h->instrument.n_saddles; s++) {
        const sb_saddle *saddle = &h->instrument.saddles[s];
        if (!sb_saddle_shared(saddle)) {
            say_alone(bench, h, saddle->first - 1, bench->progress.saddles[s].due);
        } else if (add_shared(h, saddle, errors)) {
            shared++;
            due = due || bench->progress.saddles[s].due;
        }
    }
    say_shared(h, errors, due, shared);
    say_stretching(bench, h);
}

/* --- what is wanting, what to expect ---------------------------------------------------- */

/* One sentence a reason, in the order of the strings. */
static void say_wanting(sb_handover *h) {
    size_t n = h->instrument.n_strings;
    for (size_t i = 0; i < n; i++) {
        bool same[SB_STRINGS_MAX] = {false}, first = true;
        char list[LIST_MAX];
        for (size_t j = 0; h->strings[i].wants && j < n; j++) {
            same[j] = h->strings[j].wants == h->strings[i].wants;
            first = first && !(same[j] && j < i);
        }
        if (!h->strings[i].wants || !first)
            continue;
        (void)list_strings(same, n, list);
        sb_say(&h->wanting, "%s: %s", list, h->strings[i].wants);
    }
}

static void say_expect(sb_handover *h) {
    char list[LIST_MAX];
    if (list_strings(h->fitted, h->instrument.n_strings, list) > 0)
        sb_say(&h->expect,
               "New strings stretch: tune often for the first days. Once they hold their "
               "pitch the figures above hold too; nylon takes the longest.");
    else
        sb_say(&h->expect,
               "Strings wear. When they turn dull or will not play true along the neck, fit "
               "new ones of the same gauges.");
    sb_say(&h->expect, "Other gauges, another tuning or another height of the strings shift these "
                       "figures: then the saddles are to be set again.");
    sb_say(&h->expect,
           "Wood moves with the moisture of the air. After a change of season the strings "
           "may lie higher or buzz: have the relief looked at before anything else.");
}

static void say_cautions(sb_handover *h) {
    sb_say(&h->cautions,
           "Slacken a string before you move its saddle or lift it from the nut, and shield "
           "your eyes: a wire that lets go whips.");
    sb_say(&h->cautions,
           "Unplug an electric instrument before you open it. What is fed from the mains is "
           "for a licensed electrician.");
    sb_say(&h->cautions,
           "Cracks, a lifting bridge or a neck that no longer answers its adjustment are for "
           "a qualified repairer.");
}

void sb_handover_word(const sb_bench *bench, sb_handover *sheet) {
    say_result(sheet);
    say_found(sheet);
    say_done(sheet);
    say_remains(bench, sheet);
    say_wanting(sheet);
    say_expect(sheet);
    say_cautions(sheet);
}
