/* prediction: a set of strings on a neck, and where saddles and nut have to stand for it.
 *
 * Nothing here prints but the functions that take option texts, which report what is wrong.
 */
#ifndef SB_PREDICTION_H
#define SB_PREDICTION_H

#include <stdbool.h>
#include <stdio.h>

#include "cli/args.h"
#include "cli/book.h"
#include "cli/print.h"
#include "core/compensate.h"
#include "core/compromise.h"

#define SB_RELIEF_TO     17  /* the bow is from fret 1 to here */
#define SB_FIRST_FRET_MM 0.5 /* height there where it is not told: common practice, no source */

typedef struct {
    size_t n;
    sb_string strings[SB_STRINGS_MAX]; /* with their scales */
    sb_wire_data data[SB_STRINGS_MAX];
    bool guessed; /* the material was taken from the tension that steel would have */
} sb_string_set;

typedef enum { SB_HEIGHT_GIVEN, SB_HEIGHT_ASSUMED, SB_HEIGHT_BOOK } sb_height_from;

typedef struct {
    sb_compensation_task fit; /* but neck and pitch, which are each string's own */
    const char *ends;         /* what `fit.ends` is called */
    bool by_action;
    sb_action action; /* but for each string's own heights: */
    double action_mm[SB_STRINGS_MAX], first_fret_mm[SB_STRINGS_MAX];
    sb_height_from action_from, first_fret_from, relief_from;
    double nut_height_mm, rise_mm; /* where not by action */
    bool worn;                     /* crowns are, by what was measured */
    double a4_hz;
    size_t n_saddles;
    sb_saddle saddles[SB_STRINGS_MAX];
    double spacing_mm;
    sb_compromise_fit shared_fit;
} sb_prediction_task;

/* A saddle under several strings. */
typedef struct {
    size_t first, last; /* from 1, both included */
    bool slant;
    double place_mm[SB_STRINGS_MAX]; /* of its strings, back from the nominal place */
    sb_compromise c;
} sb_saddle_line;

typedef struct {
    size_t n;
    sb_compensation string[SB_STRINGS_MAX];
    double total_tension_n, total_std_error_n; /* the model's errors taken as common to all */
    double nut_mm;                             /* the mean: one nut for all */
    size_t n_lines;
    sb_saddle_line line[SB_STRINGS_MAX];
} sb_prediction;

/* Predicts for each string; `failed` is the string, from 0, that a status other than SB_OK is
 * about. Errors: as sb_compensate and sb_compromise_place. */
SB_MUST_CHECK sb_status sb_predict(const sb_prediction_task *task, const sb_string_set *set,
                                   sb_prediction *out, size_t *failed);

/* The same; 0, or the exit code with what is wrong with the string reported. */
int sb_predict_or_say(const sb_prediction_task *task, const sb_string_set *set, sb_prediction *out);

/* --- from options, in predict_set.c -------------------------------------------------------- */

/* Reads a list of strings, of which several make one; scales are left 0. 0 or the exit code. */
int sb_strings_set(const sb_texts *strings, sb_string_set *set);

/* The strings to come in place of `now`: the same places, other notes and gauges; nothing else is
 * known of them. `material` may be NULL. 0 or the exit code. */
int sb_restring_set(const sb_texts *strings, const char *material, const char *kind, double a4_hz,
                    const sb_string_set *now, sb_string_set *then);

/* The saddles of an instrument: a shared one that is filed or shimmed can have any slant, one that
 * a screw moves has the shape that the book says. */
void sb_saddles_of(const sb_instrument *instrument, sb_prediction_task *task);

/* Any slant for all. */
void sb_saddles_slant(sb_prediction_task *task);

/* --- from options, in predict_data.c ------------------------------------------------------ */

/* What is known of the strings, as option texts; NULL where not given. Each is a list with commas,
 * one item for all or one a string, "-" where it is not known. */
typedef struct {
    const char *material, *unit_mass, *tension, *core, *modulus;
} sb_data_texts;

/* Fills set->data; `kind` is that of the instrument, "" for none. Without a material it is nylon
 * for a kind that has such, or where a plain string in steel would pull more than
 * SB_STEEL_MOST_N, else steel. 0 or the exit code. */
#define SB_STEEL_MOST_N 200.0
int sb_set_data(sb_string_set *set, const sb_data_texts *texts, const char *kind, double a4_hz);

/* "1-12", "5", "1,3,5-7": frets in rising order; 0 or the exit code. */
int sb_frets_parse(const char *text, int frets[SB_FRETS_MAX], size_t *n);

/* "12:1.6mm"; 0 or the exit code. */
int sb_action_parse(const char *text, sb_action *action);

/* --- heights, in predict_heights.c ----------------------------------------------------------- */

#define SB_NO_LENGTH (-1000.0) /* of what may be negative */

/* A group of the option table. */
typedef struct {
    double nut_height_mm, action17_mm, first_fret_mm; /* negative = not given */
    double rise_mm, relief_mm;                        /* SB_NO_LENGTH = not given */
    double finger_mm, behind_mm;
    const char *action; /* "12:1.6mm"; NULL = not given */
    bool assumes;       /* where nothing tells the action: SB_ACTION_MM at fret 12 */
} sb_heights;

#define SB_HEIGHTS_UNTOLD                                                                          \
    {                                                                                              \
        .nut_height_mm = -1, .action17_mm = -1, .first_fret_mm = -1, .rise_mm = SB_NO_LENGTH,      \
        .relief_mm = SB_NO_LENGTH                                                                  \
    }

#define SB_HEIGHT_OPTIONS 8
extern const sb_option sb_height_options[SB_HEIGHT_OPTIONS];

/* Sets the heights of a task whose others are zero; `specs` are what was measured of the
 * instrument and stand in for what is not given, or NULL. 0 or the exit code. */
struct sb_specs;
int sb_set_heights(const sb_heights *heights, const struct sb_specs *specs,
                   sb_prediction_task *task);

/* The same with what the instrument's log says; without a book from what is given alone. */
int sb_set_heights_book(const sb_heights *heights, sb_book *book, int64_t id, const char *name,
                        sb_prediction_task *task);

/* --- from readings, in predict_readings.c ------------------------------------------------- */

/* Puts measured inharmonicities into set->data: from what setback measure --json printed, a file
 * ("-" is standard input), matched by the open note; or, "book", from the instrument's log; NULL
 * from nowhere. `book` may be NULL. 0 or the exit code. */
int sb_set_heard(sb_string_set *set, const char *from, sb_book *book, int64_t id, const char *name);

/* From the instrument's log, each string's since it was fitted; false where none is there, or
 * *status is not OK. Nothing is said. */
bool sb_heard_in_book(sb_string_set *set, sb_book *book, int64_t id, sb_book_status *status);

/* --- out, in print_predict.c and json_predict.c ------------------------------------------- */

typedef struct {
    const sb_prediction_task *task;
    const sb_string_set *set;
    const sb_prediction *p;
} sb_predicted;

/* Without the caution. */
void sb_print_prediction(const sb_page *page, const sb_predicted *now);

/* From the strings that are on to others; likewise. */
void sb_print_restring(const sb_page *page, const sb_predicted *now, const sb_predicted *then);

/* setback.predict/1; `was` is NULL, or what the strings are to replace. False when out of
 * memory. */
bool sb_json_prediction(FILE *out, const sb_predicted *now, const sb_predicted *was);

/* How far string i's saddle has to move, back positive, and how sure that is. */
double sb_restring_move(const sb_predicted *now, const sb_predicted *then, size_t i,
                        double *std_error_mm);

/* "more", "less" or "same": what another tension does to the relief. */
const char *sb_restring_relief(const sb_predicted *now, const sb_predicted *then);

#endif
