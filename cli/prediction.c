#include "cli/prediction.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

#define SAME_PULL 0.02 /* a neck does not show less (common practice, no source) */

static sb_status neck_of(const sb_prediction_task *task, size_t string, double scale_mm,
                         sb_neck *neck) {
    sb_action action = task->action;
    action.action_mm = task->action_mm[string];
    action.first_fret_mm = task->first_fret_mm[string];
    if (task->by_action)
        return sb_neck_from_action(scale_mm, &action, neck);
    *neck = (sb_neck){.scale_mm = scale_mm,
                      .nut_height_mm = task->nut_height_mm,
                      .rise_mm = task->rise_mm,
                      .finger_mm = task->action.finger_mm,
                      .relief_mm = task->action.relief_mm,
                      .relief_from = 1,
                      .relief_to = task->action.relief_to};
    return SB_OK;
}

static sb_status place_line(const sb_prediction_task *task, const sb_string_set *set,
                            const sb_saddle *saddle, sb_prediction *p) {
    sb_shared_string shared[SB_STRINGS_MAX];
    sb_saddle_line *line = &p->line[p->n_lines];
    size_t n = saddle->last - saddle->first + 1;
    *line = (sb_saddle_line){
        .first = saddle->first, .last = saddle->last, .slant = saddle->shape == SB_SHAPE_SLANT};
    for (size_t i = 0; i < n; i++) {
        size_t at = saddle->first - 1 + i;
        shared[i] = (sb_shared_string){.needed_mm = p->string[at].saddle_mm,
                                       .across_mm = task->spacing_mm * (double)i,
                                       .cents_per_mm = SB_CENTS_PER_LN / set->strings[at].scale_mm,
                                       .weight = 1};
    }
    sb_compromise_options options = {.shape = saddle->shape, .fit = task->shared_fit};
    sb_status status = sb_compromise_place(shared, n, &options, &line->c);
    for (size_t i = 0; i < n; i++)
        line->place_mm[i] = line->c.position_mm + line->c.slope * shared[i].across_mm;
    p->n_lines += status == SB_OK;
    return status;
}

sb_status sb_predict(const sb_prediction_task *task, const sb_string_set *set, sb_prediction *out,
                     size_t *failed) {
    sb_status status = SB_OK;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < set->n && status == SB_OK; i++) {
        sb_compensation_task fit = task->fit;
        *failed = i;
        fit.hz = sb_note_hz(set->strings[i].semitone, task->a4_hz);
        status = neck_of(task, i, set->strings[i].scale_mm, &fit.neck);
        if (status == SB_OK)
            status = sb_compensate(&fit, &set->data[i], &out->string[i]);
        out->n = i + 1;
        out->total_tension_n += out->string[i].wire.tension_n;
        out->total_std_error_n += out->string[i].tension_std_error_n;
        out->nut_mm += out->string[i].nut_mm / (double)set->n;
    }
    for (size_t k = 0; k < task->n_saddles && status == SB_OK; k++) {
        *failed = task->saddles[k].first - 1;
        if (task->saddles[k].last > task->saddles[k].first)
            status = place_line(task, set, &task->saddles[k], out);
    }
    return status;
}

static bool same_string(const sb_predicted *a, const sb_predicted *b, size_t i) {
    const sb_string *s = &a->set->strings[i], *t = &b->set->strings[i];
    return s->semitone == t->semitone && s->wound == t->wound &&
           fabs(s->gauge_mm - t->gauge_mm) < 1e-6 &&
           a->set->data[i].material == b->set->data[i].material;
}

double sb_restring_move(const sb_predicted *now, const sb_predicted *then, size_t i,
                        double *std_error_mm) {
    const sb_compensation *a = &now->p->string[i], *b = &then->p->string[i];
    bool alike = now->set->data[i].material == then->set->data[i].material &&
                 now->set->strings[i].wound == then->set->strings[i].wound;
    *std_error_mm = sb_compensation_shift_error(a, b, alike, same_string(now, then, i));
    return b->saddle_mm - a->saddle_mm;
}

const char *sb_restring_relief(const sb_predicted *now, const sb_predicted *then) {
    double more = then->p->total_tension_n - now->p->total_tension_n;
    if (fabs(more) <= SAME_PULL * now->p->total_tension_n)
        return "same";
    return more > 0 ? "more" : "less";
}
