#include "cli/json_survey.h"

#include <jansson.h>
#include <stdlib.h>

#include "cli/json_memory.h"
#include "cli/json_value.h"
#include "cli/text.h"

#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(10))

/* json_pack and json_object_update_new take what they are given and fail on a NULL, so that a
 * failed allocation shows once, at the end. */

static json_t *clean_string(const char *text) {
    char clean[1024];
    sb_text_clean(text, clean, sizeof clean);
    return json_string(clean);
}

/* The array, or NULL with it released where an item failed. */
static json_t *checked(json_t *array, bool whole) {
    if (whole)
        return array;
    json_decref(array);
    return NULL;
}

static json_t *part_names(const bool chosen[SB_PARTS]) {
    json_t *array = json_array();
    bool whole = true;
    for (int p = 0; p < SB_PARTS; p++)
        if (chosen[p])
            whole = !json_array_append_new(array, json_string(sb_survey_part_text(p))) && whole;
    return checked(array, whole);
}

static json_t *bad_frets(const sb_surveyed *s) {
    json_t *array = json_array();
    bool whole = true;
    for (size_t i = 0; i < s->n; i++)
        if (s->survey.bad[i])
            whole = !json_array_append_new(array, json_integer(s->readings[i].fret)) && whole;
    return checked(array, whole);
}

static json_t *frets_to_play(const sb_surveyed *s) {
    int too[4];
    size_t n = sb_surveyed_play_too(s, too);
    json_t *array = json_array();
    bool whole = true;
    for (size_t i = 0; i < n; i++)
        whole = !json_array_append_new(array, json_integer(too[i])) && whole;
    return checked(array, whole);
}

static json_t *fret_object(const sb_surveyed *s, size_t i) {
    const sb_survey_reading *r = &s->readings[i];
    const sb_survey *v = &s->survey;
    bool heard = s->open_hz > 0;
    return json_pack("{s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:b}", "fret", r->fret,
                     "error_cents", sb_json_number(r->error_cents), "std_error_cents",
                     sb_json_number_if(r->std_error_cents > 0, r->std_error_cents),
                     "used_std_error_cents", sb_json_number(v->used_std_error_cents[i]), "weight",
                     sb_json_number(r->weight), "plucks",
                     heard ? json_integer((json_int_t)s->plucks[i]) : json_null(), "fitted_cents",
                     sb_json_number(v->fitted_cents[i]), "saddle_only_cents",
                     sb_json_number(v->saddle_only_cents[i]), "cured_cents",
                     sb_json_number(v->cured_cents[i]), "outlier", (int)v->bad[i]);
}

static json_t *frets(const sb_surveyed *s) {
    json_t *array = json_array();
    bool whole = true;
    for (size_t i = 0; i < s->n; i++)
        whole = !json_array_append_new(array, fret_object(s, i)) && whole;
    return checked(array, whole);
}

/* As a side of setback.measure/1, so that it may be read for one. */
static json_t *open_object(const sb_surveyed *s) {
    char note[SB_NOTE_TEXT_MAX];
    if (!(s->open_hz > 0))
        return json_null();
    sb_note_format(sb_note_nearest(s->open_hz, s->plan->a4_hz, NULL), note, sizeof note);
    return json_pack("{s:s, s:o, s:o, s:o}", "note", note, "hz", sb_json_number(s->open_hz),
                     "inharmonicity", sb_json_number_if(s->inharmonicity > 0, s->inharmonicity),
                     "inharmonicity_std_error",
                     sb_json_number_if(s->inharmonicity > 0, s->inharmonicity_std_error));
}

static json_t *head_object(const sb_surveyed *s) {
    return json_pack("{s:s, s:o, s:o, s:o, s:o}", "schema", "setback.survey/1", "source",
                     s->source ? clean_string(s->source) : json_null(), "string",
                     s->string > 0 ? json_integer(s->string) : json_null(), "scale_mm",
                     sb_json_number(s->options.neck.scale_mm), "open", open_object(s));
}

static json_t *parts_object(const sb_surveyed *s) {
    const sb_survey *v = &s->survey;
    const double *error = v->std_error_mm;
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "saddle_move_mm",
                     sb_json_number(sb_surveyed_move_mm(s, SB_PART_SADDLE)), "saddle_std_error_mm",
                     sb_json_number(error[SB_PART_SADDLE]), "nut_move_mm",
                     sb_json_number(sb_surveyed_move_mm(s, SB_PART_NUT)), "nut_std_error_mm",
                     sb_json_number(error[SB_PART_NUT]), "slot_excess_mm",
                     sb_json_number(v->excess_mm[SB_PART_SLOT]), "slot_std_error_mm",
                     sb_json_number(error[SB_PART_SLOT]), "fitted", part_names(v->fitted));
}

static json_t *correlations_object(const sb_survey *v) {
    bool nut = v->fitted[SB_PART_NUT], slot = v->fitted[SB_PART_SLOT];
    return json_pack("{s:o, s:o, s:o}", "saddle_nut_correlation",
                     sb_json_number_if(nut, v->correlation[SB_PART_SADDLE][SB_PART_NUT]),
                     "saddle_slot_correlation",
                     sb_json_number_if(slot, v->correlation[SB_PART_SADDLE][SB_PART_SLOT]),
                     "nut_slot_correlation",
                     sb_json_number_if(nut && slot, v->correlation[SB_PART_NUT][SB_PART_SLOT]));
}

static json_t *fit_object(const sb_survey *v) {
    return json_pack("{s:o, s:o, s:o, s:b, s:o, s:i, s:o, s:o}", "saddle_only_move_mm",
                     sb_json_number(v->saddle_only_mm), "saddle_only_std_error_mm",
                     sb_json_number(v->saddle_only_std_error_mm), "saddle_only_rms_cents",
                     sb_json_number(v->saddle_only_rms_cents), "adequate", (int)v->adequate,
                     "chi_squared", sb_json_number_if(v->errors_known, v->chi2),
                     "degrees_of_freedom", v->dof, "probability",
                     sb_json_number_if(v->errors_known && v->dof > 0, v->probability),
                     "scatter_cents", sb_json_number(v->scatter_cents));
}

static json_t *verdict_object(const sb_surveyed *s) {
    const sb_survey *v = &s->survey;
    char headline[240];
    bool rival = v->between[0] >= 0;
    sb_surveyed_headline(s, headline, sizeof headline);
    return json_pack("{s:o, s:s, s:o, s:o, s:o, s:s}", "outlier_frets", bad_frets(s), "verdict",
                     sb_survey_verdict_text(v->verdict), "faults", part_names(v->fault),
                     "undecided_between",
                     rival ? json_pack("[s, s]", sb_survey_part_text(v->between[0]),
                                       sb_survey_part_text(v->between[1]))
                           : json_null(),
                     "play_too", frets_to_play(s), "in_words", headline);
}

static json_t *rest_object(const sb_surveyed *s) {
    return json_pack("{s:o, s:o, s:b, s:o}", "stretch", sb_json_number(s->survey.kappa.kappa),
                     "stretch_factor", sb_json_number(s->survey.kappa.factor), "stretch_told",
                     (int)s->kappa_told, "frets", frets(s));
}

/* Adds one object's fields to another and releases it. */
static bool join(json_t *object, json_t *more) {
    bool whole = object && more && json_object_update(object, more) == 0;
    json_decref(more);
    return whole;
}

char *sb_json_survey_text(const sb_surveyed *s) {
    json_t *object = head_object(s);
    bool whole = join(object, parts_object(s));
    whole = join(object, correlations_object(&s->survey)) && whole;
    whole = join(object, fit_object(&s->survey)) && whole;
    whole = join(object, verdict_object(s)) && whole;
    whole = join(object, rest_object(s)) && whole;
    char *text = whole ? sb_json_text(object, WRITTEN) : NULL;
    json_decref(object);
    return text;
}

bool sb_json_survey(FILE *out, const sb_surveyed *s) {
    char *text = sb_json_survey_text(s);
    if (!text)
        return false;
    (void)fprintf(out, "%s\n", text);
    (void)fflush(out); /* a line at a time, for whoever reads along */
    free(text);
    return true;
}
