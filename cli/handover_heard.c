#include "cli/handover_heard.h"

#include <math.h>
#include <string.h>

#include "cli/text.h"

/* --- fields ---------------------------------------------------------------------------- */

void sb_heard_field(const json_t *object, const char *key, char *text, size_t size) {
    const char *value = json_string_value(json_object_get(object, key));
    sb_text_clean(value ? value : "", text, size);
}

/* "−20.1 ± 0.3"; false where there is no such number. */
static bool figure(const json_t *object, const char *key, const char *error_key, char *text,
                   size_t size) {
    const json_t *value = json_object_get(object, key), *error = json_object_get(object, error_key);
    if (!json_is_number(value))
        return false;
    sb_handover_signed(json_number_value(value), text, size);
    size_t used = strlen(text);
    if (json_is_number(error) && json_number_value(error) > 0)
        (void)snprintf(text + used, size - used, " \u00b1 %.1f",
                       sb_handover_error(json_number_value(error)));
    return true;
}

/* --- events ------------------------------------------------------------------------------ */

/* The row of this title and the event's selector position; NULL where there are too many. */
static sb_heard_row *row_of(sb_heard *h, const char *what, const json_t *object) {
    char name[sizeof h->rows[0].what], position[80];
    sb_heard_field(object, "position", position, sizeof position);
    (void)snprintf(name, sizeof name, "%s%s%s", what, position[0] ? ", selector at " : "",
                   position);
    for (size_t i = 0; i < h->n; i++)
        if (strcmp(h->rows[i].what, name) == 0)
            return &h->rows[i];
    if (h->n == SB_HEARD_ROWS)
        return NULL;
    memcpy(h->rows[h->n].what, name, sizeof name);
    return &h->rows[h->n++];
}

static void set_part(sb_heard_row *row, const char *key, const char *text) {
    size_t i = 0;
    while (row && i < row->n && strcmp(row->parts[i].key, key) != 0)
        i++;
    if (!row || i == SB_HEARD_PARTS)
        return;
    (void)snprintf(row->parts[i].key, sizeof row->parts[i].key, "%s", key);
    (void)snprintf(row->parts[i].text, sizeof row->parts[i].text, "%s", text);
    if (i == row->n)
        (void)snprintf(row->parts[i].first, sizeof row->parts[i].first, "%s", text);
    row->n = i == row->n ? i + 1 : row->n;
}

/* As setback quiet says it: below the pluck, or the level as such where there was none; false where
 * neither is known. */
static bool quiet_text(const json_t *object, char *text, size_t size) {
    const json_t *below = json_object_get(object, "below_pluck_db");
    double error = json_number_value(json_object_get(object, "below_std_error_db"));
    char level[48], by[32] = "";
    if (error > 0)
        (void)snprintf(by, sizeof by, " \u00b1 %.0f", fmin(fmax(error, 1), 999));
    if (json_is_number(below))
        (void)snprintf(text, size, "%.0f%s dB below a pluck",
                       fmin(fmax(json_number_value(below), -999), 999), by);
    else if (figure(object, "noise_dbfs", "noise_std_error_db", level, sizeof level))
        (void)snprintf(text, size, "%s dBFS", level);
    else
        return false;
    return true;
}

/* ", hum at 50 Hz 41 dB below it" */
static void add_hum(const json_t *object, char *text, size_t size) {
    const json_t *hz = json_object_get(object, "hum_hz");
    const json_t *hum = json_object_get(object, "hum_dbfs");
    const json_t *pluck = json_object_get(object, "pluck_dbfs");
    bool below = json_is_number(pluck) && json_is_number(json_object_get(object, "below_pluck_db"));
    char level[48];
    size_t used = strlen(text);
    if (!json_is_number(hz) || !figure(object, "hum_dbfs", "", level, sizeof level))
        return;
    double hum_hz = fmin(json_number_value(hz), 999);
    if (below)
        (void)snprintf(text + used, size - used, ", hum at %.0f Hz %.0f dB below it", hum_hz,
                       fmin(fmax(json_number_value(pluck) - json_number_value(hum), -999), 999));
    else
        (void)snprintf(text + used, size - used, ", hum at %.0f Hz %s dBFS", hum_hz, level);
}

static void read_quiet(sb_heard *h, const json_t *object) {
    sb_heard_row *row = row_of(h, "Noise", object);
    char when[16];
    if (!row)
        return;
    sb_heard_field(object, "when", when, sizeof when);
    char *text = strcmp(when, "before") == 0 ? row->before : row->now;
    if (quiet_text(object, text, sizeof row->now))
        add_hum(object, text, sizeof row->now);
}

/* "neck sounds", and whether that is what the selector is for, where that was told. */
static void read_taps(sb_heard *h, const json_t *object) {
    static const char *const verdicts[][2] = {
        {"live", "sounds"}, {"weak", "is weak"}, {"dead", "is silent"}};
    const json_t *meant = json_object_get(object, "meant");
    char pickup[64], verdict[32], part[160];
    sb_heard_field(object, "pickup", pickup, sizeof pickup);
    sb_heard_field(object, "verdict", verdict, sizeof verdict);
    bool as_meant =
        !json_is_boolean(meant) || json_is_true(meant) == (strcmp(verdict, "live") == 0);
    for (size_t i = 0; i < sizeof verdicts / sizeof *verdicts; i++) {
        if (strcmp(verdict, verdicts[i][0]) != 0)
            continue;
        (void)snprintf(part, sizeof part, "%s%s%s%s", pickup, pickup[0] ? " " : "", verdicts[i][1],
                       as_meant ? "" : " (not as meant)");
        sb_heard_row *row = row_of(h, "Pickups tapped", object);
        set_part(row, pickup, part);
        if (row)
            row->repaired = true;
    }
}

/* "2: −20.1 ± 0.3" */
static void set_string(sb_heard_row *row, int string, const char *text) {
    char key[16], part[176];
    (void)snprintf(key, sizeof key, "%d", string);
    (void)snprintf(part, sizeof part, "%d: %s", string, text);
    set_part(row, key, part);
}

static void read_balance(sb_heard *h, const json_t *object, int string) {
    char number[48];
    sb_heard_row *row = row_of(h, "Loudness of the strings in dB", object);
    if (!row || !figure(object, "level_dbfs", "std_error_db", number, sizeof number))
        return;
    set_string(row, string, number);
    sb_heard_field(object, "verdict", row->verdict, sizeof row->verdict);
    bool first = strcmp(row->verdict, "first side high") == 0;
    if (first || strcmp(row->verdict, "last side high") == 0)
        (void)snprintf(row->verdict, sizeof row->verdict, "louder towards the %s string",
                       first ? "first" : "last");
    if (!row->before[0])
        (void)snprintf(row->before, sizeof row->before, "%s", row->verdict);
}

static void read_recheck(sb_heard *h, const json_t *object, int string) {
    char now[48], was[48], verdict[48], text[160];
    if (!figure(object, "octave_error_cents", "std_error_cents", now, sizeof now))
        return;
    bool has_was = figure(object, "was_cents", "was_std_error_cents", was, sizeof was);
    sb_heard_field(object, "verdict", verdict, sizeof verdict);
    (void)snprintf(text, sizeof text, "%s%s%s%s%s", now, verdict[0] ? " " : "", verdict,
                   has_was ? ", was " : "", has_was ? was : "");
    set_string(row_of(h, "Heard again, in cents", object), string, text);
}

static void read_settled(sb_heard *h, const json_t *object, int string) {
    char verdict[48];
    sb_heard_field(object, "verdict", verdict, sizeof verdict);
    if (verdict[0])
        set_string(row_of(h, "New strings", object), string, verdict);
}

bool sb_heard_read(sb_heard *heard, const char *what, const json_t *object, int string) {
    if (strcmp(what, "quiet") == 0)
        read_quiet(heard, object);
    else if (strcmp(what, "taps") == 0)
        read_taps(heard, object);
    else if (strcmp(what, "balance") == 0 && string > 0)
        read_balance(heard, object, string);
    else if (strcmp(what, "recheck") == 0 && string > 0)
        read_recheck(heard, object, string);
    else if (strcmp(what, "settled") == 0 && string > 0)
        read_settled(heard, object, string);
    else
        return false;
    return true;
}

/* --- the rows ------------------------------------------------------------------------------ */

#define ALL_PARTS (SB_HEARD_PARTS * 168) /* the texts of all, with what divides them */

static void join(const sb_heard_row *row, bool first, char *all) {
    all[0] = '\0';
    for (size_t i = 0; i < row->n; i++) {
        size_t used = strlen(all);
        const char *between = used == 0 ? "" : row->repaired ? ", " : "; ";
        (void)snprintf(all + used, ALL_PARTS - used, "%s%s", between,
                       first ? row->parts[i].first : row->parts[i].text);
    }
}

/* What was before is only told where it was otherwise. */
static void add_heard(sb_handover *sheet, const sb_heard_row *row) {
    char all[ALL_PARTS], first[ALL_PARTS] = "";
    join(row, false, all);
    if (row->repaired)
        join(row, true, first);
    bool same = row->repaired ? strcmp(first, all) == 0 : strcmp(row->before, row->verdict) == 0;
    size_t used = strlen(all);
    if (row->verdict[0] && used)
        (void)snprintf(all + used, sizeof all - used, "; %s", row->verdict);
    const char *before = row->repaired ? first : row->before;
    if (all[0] || row->before[0] || row->now[0])
        sb_handover_add_row(sheet, &(sb_handover_shown){.what = row->what,
                                                        .before = same ? "" : before,
                                                        .now = all[0] ? all : row->now,
                                                        .heard = true});
}

void sb_heard_show(const sb_heard *heard, sb_handover *sheet) {
    for (size_t i = 0; i < heard->n; i++)
        add_heard(sheet, &heard->rows[i]);
}
