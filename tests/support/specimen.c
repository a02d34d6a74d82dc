#include "tests/support/specimen.h"

#include <math.h>

#define FRET       12
#define GRID       4  /* steps a side */
#define NARROWINGS 40 /* of the grid, by SHRINK each: to 1e-5 mm */
#define SHRINK     0.7
#define REACH_MM   8.0 /* half the first grid's width */

size_t specimen_saddle_of(const specimen *f, size_t string) {
    size_t k = 0;
    while (string >= f->saddles[k].first + f->saddles[k].count)
        k++;
    return k;
}

double specimen_place(const specimen *f, size_t string, const double places_mm[2]) {
    const specimen_saddle *s = &f->saddles[specimen_saddle_of(f, string)];
    if (!s->slant)
        return places_mm[0];
    const double across = f->spacing_mm * (double)string;
    const double part =
        (across - s->ends[0].across_mm) / (s->ends[1].across_mm - s->ends[0].across_mm);
    return places_mm[0] + part * (places_mm[1] - places_mm[0]);
}

void specimen_move(specimen *f, size_t saddle, size_t end, double by_mm) {
    specimen_saddle *s = &f->saddles[saddle];
    saddle_end *e = &s->ends[end];
    e->screw_mm += by_mm;
    e->place_mm =
        fmax(e->screw_mm - 0.5 * e->play_mm, fmin(e->screw_mm + 0.5 * e->play_mm, e->place_mm));
    const double places[2] = {s->ends[0].place_mm, s->ends[1].place_mm};
    for (size_t i = s->first; i < s->first + s->count; i++)
        f->strings[i].saddle.x_mm = f->origin_mm[i] + specimen_place(f, i, places);
}

double specimen_error_at(const specimen *f, size_t string, const double places_mm[2]) {
    return strung_error_at(&f->strings[string],
                           f->origin_mm[string] + specimen_place(f, string, places_mm),
                           f->open_hz[string], FRET);
}

double specimen_error_cents(const specimen *f, size_t string) {
    return strung_error_at(&f->strings[string], f->strings[string].saddle.x_mm, f->open_hz[string],
                           FRET);
}

double specimen_worst_at(const specimen *f, size_t saddle, const double places_mm[2]) {
    const specimen_saddle *s = &f->saddles[saddle];
    double worst = 0.0;
    for (size_t i = s->first; i < s->first + s->count; i++)
        worst = fmax(worst, fabs(specimen_error_at(f, i, places_mm)));
    return worst;
}

/* One grid about the best so far; a flat saddle has one place to try, not two. */
static double try_grid(const specimen *f, size_t saddle, double half_mm, double best_mm[2]) {
    const double middle[2] = {best_mm[0], best_mm[1]};
    const bool slant = f->saddles[saddle].slant;
    double least = specimen_worst_at(f, saddle, middle);
    for (int i = 0; i <= GRID; i++) {
        for (int j = 0; j <= (slant ? GRID : 0); j++) {
            const double places[2] = {middle[0] + half_mm * (2.0 * i / GRID - 1.0),
                                      middle[1] + half_mm * (2.0 * j / GRID - 1.0)};
            const double worst = specimen_worst_at(f, saddle, places);
            if (worst < least) {
                least = worst;
                best_mm[0] = places[0];
                best_mm[1] = places[1];
            }
        }
    }
    return least;
}

double specimen_end_move(const specimen *f, size_t saddle, size_t end, const double move_mm[2]) {
    const specimen_saddle *s = &f->saddles[saddle];
    const double first = f->spacing_mm * (double)s->first;
    const double width = f->spacing_mm * (double)(s->count - 1);
    if (!s->slant)
        return move_mm[0];
    return move_mm[0] + (s->ends[end].across_mm - first) / width * (move_mm[1] - move_mm[0]);
}

double specimen_best_places(const specimen *f, size_t saddle, double places_mm[2]) {
    const specimen_saddle *s = &f->saddles[saddle];
    double half_mm = REACH_MM, least = 0.0;
    if (s->count == 1) {
        places_mm[0] = strung_true_saddle_mm(&f->strings[s->first], f->open_hz[s->first], FRET) -
                       f->origin_mm[s->first];
        return 0.0;
    }
    places_mm[0] = s->ends[0].place_mm;
    places_mm[1] = s->ends[1].place_mm;
    for (int k = 0; k < NARROWINGS; k++, half_mm *= SHRINK)
        least = try_grid(f, saddle, half_mm, places_mm);
    return least;
}
