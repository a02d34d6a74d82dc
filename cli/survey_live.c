#include "cli/survey_live.h"

#include <stdio.h>
#include <string.h>

#include "cli/complain.h"

#define PROMPT_MAX 40
#define NAMED      4 /* frets named in a prompt */

typedef struct {
    const sb_session_options *options;
    const sb_survey_plan *plan;
    const sb_open_notes *open;
    sb_take *take;
    sb_take_frets *frets;
    sb_sorted sorted;
    sb_live live;
    double last_note_s;
    char prompt[PROMPT_MAX];
} listening;

/* --- what to ask for ---------------------------------------------------------------------- */

static size_t have(const listening *l, int fret) {
    if (l->sorted == SB_SORTED)
        return l->frets->count[fret];
    return 0;
}

static bool wanted(const listening *l, int fret) {
    return l->plan->asked[fret] && fret <= l->plan->last &&
           have(l, fret) < (size_t)l->options->plucks;
}

static bool enough(const void *context) {
    const listening *l = context;
    for (int f = 0; f <= l->plan->last; f++)
        if (wanted(l, f))
            return false;
    return l->sorted == SB_SORTED;
}

/* "pluck it at fret 3, 5, 7, 9 ..." */
static void set_prompt(listening *l) {
    size_t named = 0;
    bool open = l->sorted == SB_SORTED_NOTHING || (l->sorted == SB_SORTED && wanted(l, 0));
    if (open || enough(l)) {
        (void)snprintf(l->prompt, PROMPT_MAX, "%s",
                       open ? "pluck the open string" : "enough; finishing");
        return;
    }
    (void)snprintf(l->prompt, PROMPT_MAX, "pluck it at fret");
    for (int f = 1; f <= l->plan->last && named <= NAMED; f++) {
        if (!wanted(l, f))
            continue;
        size_t used = strlen(l->prompt);
        if (named++ < NAMED)
            (void)snprintf(l->prompt + used, PROMPT_MAX - used, "%s%d", named == 1 ? " " : ", ", f);
        else
            (void)snprintf(l->prompt + used, PROMPT_MAX - used, " ...");
    }
}

static void say_prompt(void *context) {
    listening *l = context;
    char before[PROMPT_MAX];
    (void)snprintf(before, sizeof before, "%s", l->prompt);
    set_prompt(l);
    if (!l->live.redraws && strcmp(before, l->prompt) != 0)
        sb_live_say(&l->live, "%s", l->prompt);
}

/* --- notes --------------------------------------------------------------------------------- */

static void tell(listening *l, const sb_reading *r) {
    char what[24] = "heard";
    int fret = l->sorted == SB_SORTED ? l->frets->fret[l->take->n - 1] : -1;
    if (r->fault != SB_PLUCK_GOOD) {
        sb_live_say(&l->live, "left out: %s; %s", sb_pluck_fault_text(r->fault),
                    sb_pluck_advice(r->fault));
        return;
    }
    if (fret == 0 || (l->sorted == SB_SORTED_OPEN))
        (void)snprintf(what, sizeof what, "open");
    else if (fret > 0)
        (void)snprintf(what, sizeof what, "fret %d", fret);
    sb_live_say(&l->live, "%-8s %8.3f Hz ± %.2g cents", what, r->hz, r->std_error_cents);
}

static void take_notes(void *context) {
    listening *l = context;
    sb_reading reading;
    while (sb_listener_next(l->live.listener, &reading)) {
        if (reading.still_sounding)
            continue;
        sb_take_add(l->take, &reading);
        l->last_note_s = sb_live_seconds(&l->live);
        l->sorted = sb_survey_sort(l->take, l->plan, l->open, l->frets);
        tell(l, &reading);
        say_prompt(l);
    }
}

int sb_survey_listen(const sb_session_options *options, const sb_survey_plan *plan,
                     const sb_open_notes *open, sb_take *take, sb_take_frets *frets) {
    listening l = {.options = options,
                   .plan = plan,
                   .open = open,
                   .take = take,
                   .frets = frets,
                   .sorted = SB_SORTED_NOTHING};
    const sb_hearer hearer = {&l,         false,      &l.live, take, l.prompt, &l.last_note_s,
                              say_prompt, take_notes, enough};
    bool stopped;
    sb_take_reset(take);
    int code = sb_session_hear(options, &hearer, &stopped);
    if (code != EX_OK || l.sorted == SB_SORTED)
        return code;
    return stopped ? sb_live_failure(SB_LIVE_SIGNAL) : sb_survey_complain(l.sorted, l.take, NULL);
}
