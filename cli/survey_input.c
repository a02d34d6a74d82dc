#include "cli/survey_input.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/args.h"
#include "cli/complain.h"
#include "cli/err.h"

#define FILE_MAX  (1024 * 1024)
#define MAX_CENTS 4800.0 /* of a fret: as the survey takes them */

/* --- the plan --------------------------------------------------------------------------- */

static void set_default(sb_survey_plan *plan) {
    static const int usual[] = {0, 1, 2, 3, 5, 7, 9, 12, 15, 17};
    memset(plan, 0, sizeof *plan);
    plan->last = SB_FRETS_LAST;
    for (int f = 0; f <= SB_FRETS_LAST; f++) {
        plan->cents[f] = 100.0 * f;
        plan->weight[f] = 1;
    }
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++)
        plan->asked[usual[i]] = true;
}

/* Reads "5" or "5-9" up to `stop` or a comma; NULL where it is neither. */
static const char *take_range(const char *text, int *first, int *last) {
    char *end = NULL;
    if (*text < '0' || *text > '9')
        return NULL;
    long a = strtol(text, &end, 10), b = a;
    if (*end == '-') {
        if (end[1] < '0' || end[1] > '9')
            return NULL;
        b = strtol(end + 1, &end, 10);
    }
    if (a > b || b > SB_FRETS_LAST)
        return NULL;
    *first = (int)a;
    *last = (int)b;
    return end;
}

static int set_frets(sb_survey_plan *plan, const char *text) {
    bool asked[SB_SURVEY_FRETS_MAX] = {true};
    const char *at = text;
    for (bool more = true; more;) {
        int first = 0, last = 0;
        at = take_range(at, &first, &last);
        if (!at || (*at != ',' && *at != '\0'))
            return sb_fail(EX_USAGE, "write frets from 0 to 36 as 0,1,2,5-9", text,
                           "--frets needs a list of frets");
        for (int f = first; f <= last; f++)
            asked[f] = true;
        more = *at++ == ',';
    }
    memcpy(plan->asked, asked, sizeof asked);
    plan->only_asked = true;
    return EX_OK;
}

static bool take_weight(const char **at, double *weight) {
    char number[32];
    if (**at != ':')
        return false;
    size_t n = strcspn(*at + 1, ",");
    (void)snprintf(number, sizeof number, "%.*s", (int)n, *at + 1);
    *at += n + 1;
    return n < sizeof number && sb_number_parse(number, weight) && *weight >= 0 && *weight <= 1e6;
}

static int set_weights(sb_survey_plan *plan, const char *text) {
    const char *at = text;
    for (bool more = true; more;) {
        int first = 0, last = 0;
        double weight = 0;
        at = take_range(at, &first, &last);
        if (!at || !take_weight(&at, &weight))
            return sb_fail(EX_USAGE, "write frets and how much each counts, such as 1-4:3,12:2",
                           text, "--weights needs a list");
        for (int f = first; f <= last; f++)
            plan->weight[f] = weight;
        more = *at++ == ',';
    }
    return EX_OK;
}

/* --- files ------------------------------------------------------------------------------ */

/* The whole file with a NUL behind it, to be freed; NULL with the failure reported in *code. */
static char *read_file(const char *path, size_t *size, int *code) {
    bool standard = strcmp(path, "-") == 0;
    FILE *file = standard ? stdin : fopen(path, "rb");
    if (!file) {
        *code = sb_complain_open(path);
        return NULL;
    }
    char *text = malloc(FILE_MAX + 1);
    *size = text ? fread(text, 1, FILE_MAX, file) : 0;
    bool failed = ferror(file) != 0, more = text && fgetc(file) != EOF;
    if (!standard)
        (void)fclose(file);
    if (!text)
        *code = sb_complain_memory();
    else if (failed)
        *code = sb_complain_read(path);
    else if (more)
        *code = sb_fail(EX_DATAERR, "see whether it is the right file", path,
                        "the file is far too large");
    else {
        text[*size] = '\0';
        return text;
    }
    free(text);
    return NULL;
}

static int set_scl(sb_survey_plan *plan, const char *path) {
    plan->has_scl = true;
    plan->last = 0;
    for (int f = 1; f <= SB_FRETS_LAST; f++) {
        double cents = sb_scl_degree_cents(&plan->scl, f);
        if (!(cents > plan->cents[f - 1]))
            return sb_fail(EX_DATAERR, "each fret must sound higher than the one before", path,
                           "no neck can be fretted for this scale (degree %d)", f);
        if (cents > MAX_CENTS)
            break;
        plan->cents[f] = cents;
        plan->last = f;
    }
    return EX_OK;
}

static int load_scl(sb_survey_plan *plan, const char *path) {
    size_t size = 0, line = 0;
    int code = EX_OK;
    char *text = read_file(path, &size, &code);
    if (!text)
        return code;
    sb_status status = sb_scl_parse(text, size, &plan->scl, &line);
    free(text);
    if (status != SB_OK)
        return sb_fail(EX_DATAERR,
                       "a Scala file has a description, the number of notes, then a pitch a line",
                       path,
                       status == SB_E_RANGE ? "line %zu: out of range"
                                            : "line %zu: not a "
                                              "Scala file",
                       line);
    return set_scl(plan, path);
}

int sb_survey_plan_make(sb_survey_plan *plan, const char *scl, const char *frets,
                        const char *weights) {
    set_default(plan);
    int code = scl ? load_scl(plan, scl) : EX_OK;
    if (code == EX_OK && frets)
        code = set_frets(plan, frets);
    if (code == EX_OK && weights)
        code = set_weights(plan, weights);
    return code;
}

/* --- readings --------------------------------------------------------------------------- */

/* All lines of one fret together. */
typedef struct {
    size_t n;
    double weights, sum, squares; /* of cents; weight 1 where no error is told */
    bool unknown;
} gathered;

/* The fields of a line, in place; returns how many there are, at most `most` + 1. */
static size_t split(char *line, char *fields[], size_t most) {
    size_t n = 0;
    for (char *at = line; *(at += strspn(at, " \t\r")) != '\0'; n++) {
        if (n > most)
            return n;
        if (n < most)
            fields[n] = at;
        at += strcspn(at, " \t\r");
        if (*at != '\0')
            *at++ = '\0';
    }
    return n;
}

/* NULL, or what is wrong with the line. */
static const char *gather(char *line, const sb_survey_plan *plan, gathered all[]) {
    char *fields[3];
    double fret = 0, cents = 0, error = 0;
    size_t n = split(line, fields, 3);
    if (n == 0 || fields[0][0] == '#' || strcmp(fields[0], "fret") == 0)
        return NULL;
    if (n < 2 || n > 3)
        return "fret, cents and standard error are needed";
    if (!sb_number_parse(fields[0], &fret) || fret != floor(fret) || fret < 0 || fret > plan->last)
        return "no such fret";
    if (!sb_number_parse(fields[1], &cents) || fabs(cents) > 100)
        return "cents are a number from -100 to 100";
    if (n == 3 && (!sb_number_parse(fields[2], &error) || !(error >= 1e-4) || error > 100))
        return "a standard error is a number from 0.0001 to 100 cents";
    gathered *g = &all[(int)fret];
    double weight = n == 3 ? 1 / (error * error) : 1;
    g->n++;
    g->unknown = g->unknown || n < 3;
    g->weights += weight;
    g->sum += weight * cents;
    g->squares += weight * cents * cents;
    return NULL;
}

/* Their mean; where they scatter beyond their errors the larger error (Birge ratio). */
static sb_survey_reading combined(const gathered *g, int fret, const sb_survey_plan *plan) {
    double mean = g->sum / g->weights;
    double chi2 = g->n > 1 ? (g->squares - g->sum * mean) / (double)(g->n - 1) : 0;
    return (sb_survey_reading){.fret = fret,
                               .fret_cents = plan->cents[fret],
                               .error_cents = mean,
                               .std_error_cents =
                                   g->unknown ? 0 : fmax(1e-4, sqrt(fmax(1, chi2) / g->weights)),
                               .weight = plan->weight[fret]};
}

static int load_text(sb_surveyed *s, char *text, const char *path) {
    gathered all[SB_SURVEY_FRETS_MAX] = {{0}};
    size_t number = 1;
    for (char *line = text; line; number++) {
        char *next = strchr(line, '\n');
        if (next)
            *next++ = '\0';
        const char *wrong = gather(line, s->plan, all);
        if (wrong)
            return sb_fail(EX_DATAERR,
                           "a line is fret, cents, standard error with tabs between: 12, +4.6, 0.2",
                           path, "line %zu: %s", number, wrong);
        line = next;
    }
    for (int f = 0; f <= s->plan->last; f++)
        if (all[f].n > 0)
            s->readings[s->n++] = combined(&all[f], f, s->plan);
    if (s->n == 0 || s->readings[s->n - 1].fret == 0)
        return sb_fail(EX_DATAERR, "give a line a fret: fret, cents, standard error", path,
                       "no fret was read");
    return EX_OK;
}

int sb_survey_load(sb_surveyed *s, const char *path) {
    size_t size = 0;
    int code = EX_OK;
    char *text = read_file(path, &size, &code);
    if (!text)
        return code;
    if (strlen(text) != size)
        code = sb_fail(EX_DATAERR, "give lines of text: fret, cents, standard error", path,
                       "not a file of readings");
    else
        code = load_text(s, text, path);
    free(text);
    return code;
}
