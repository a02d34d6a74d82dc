/* What the book holds of the pickups' heights, as rulers measured them. */
#include <string.h>

#include "cli/balance.h"

#define HEIGHT_LEAST_MM 0.3
#define HEIGHT_MOST_MM  30.0

typedef struct {
    const sb_balance *balance;
    double own[2], any[2]; /* of this position's pickup, and of one without a name; 0 = not there */
} reading;

static void take_height(reading *r, const char *name, double mm) {
    static const char *const side[2] = {"treble", "bass"};
    const sb_instrument *it = r->balance->instrument;
    bool reversed = it->strings[0].semitone < it->strings[it->n_strings - 1].semitone;
    for (int i = 0; i < 2; i++) {
        char own[SB_SIGNAL_NAME_MAX + 16], any[16];
        (void)snprintf(own, sizeof own, "pickup-%s-%s", r->balance->position, side[i]);
        (void)snprintf(any, sizeof any, "pickup-%s", side[i]);
        int at = reversed ? 1 - i : i;
        if (strcmp(name, own) == 0)
            r->own[at] = mm;
        else if (strcmp(name, any) == 0)
            r->any[at] = mm;
    }
}

static bool read_event(void *context, const sb_event *event) {
    if (event->kind != SB_EVENT_MEASURED)
        return true;
    json_t *data = json_loads(event->data, 0, NULL);
    const char *what = json_string_value(json_object_get(data, "what"));
    const char *name = json_string_value(json_object_get(data, "name"));
    double mm = json_number_value(json_object_get(data, "value_mm"));
    bool withdrawn = json_is_true(json_object_get(data, "withdrawn"));
    if (what && name && strcmp(what, "pickup") == 0 &&
        (withdrawn || (mm >= HEIGHT_LEAST_MM && mm <= HEIGHT_MOST_MM)))
        take_height(context, name, withdrawn ? 0 : mm);
    json_decref(data);
    return true;
}

sb_book_status sb_balance_read_heights(sb_balance *b, sb_book *book, int64_t id) {
    reading r = {.balance = b};
    b->height_error_mm = 0.3; /* a ruler under the pressed string, this one is open */
    sb_book_status status = sb_book_read(book, id, 0, read_event, &r);
    for (int at = 0; at < 2; at++)
        b->height_mm[at] = r.own[at] > 0 ? r.own[at] : r.any[at];
    return status;
}
