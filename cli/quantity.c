#include "cli/quantity.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/args.h"
#include "core/length.h"

#define KG_PER_LB 0.45359237
#define N_PER_LBF 4.4482216152605
#define N_PER_KGF 9.80665
#define M_PER_IN  0.0254

typedef struct {
    const char *unit; /* lower case */
    double value;
} unit;

static const unit unit_masses[] = {
    {"g/m", 1e-3}, {"kg/m", 1}, {"lb/in", KG_PER_LB / M_PER_IN}, {NULL, 0}};
static const unit forces[] = {{"n", 1},           {"lbf", N_PER_LBF}, {"lb", N_PER_LBF},
                              {"kgf", N_PER_KGF}, {"kg", N_PER_KGF},  {NULL, 0}};
static const unit moduli[] = {
    {"gpa", 1e9}, {"mpa", 1e6}, {"psi", N_PER_LBF / (M_PER_IN * M_PER_IN)}, {NULL, 0}};

/* Omega as a letter and as the unit's own character. */
static const unit ohms[] = {{"ohm", 1},       {"ohms", 1},   {"\u03a9", 1},  {"\u2126", 1},
                            {"k", 1e3},       {"kohm", 1e3}, {"kohms", 1e3}, {"k\u03a9", 1e3},
                            {"k\u2126", 1e3}, {NULL, 0}};

const char *sb_quantity_units(sb_quantity kind) {
    switch (kind) {
    case SB_UNIT_MASS: return "g/m, kg/m or lb/in";
    case SB_FORCE: return "N, lbf or kgf";
    case SB_MODULUS: return "GPa, MPa or psi";
    case SB_SPAN: return "mm or in";
    case SB_OHMS: return "kohm or ohm";
    }
    return "";
}

static const unit *units_of(sb_quantity kind) {
    switch (kind) {
    case SB_UNIT_MASS: return unit_masses;
    case SB_FORCE: return forces;
    case SB_OHMS: return ohms;
    default: return moduli;
    }
}

/* By hand, because strcasecmp follows the locale. */
static bool same_unit(const char *text, const char *name) {
    for (; *name; text++, name++) {
        bool upper = *text >= 'A' && *text <= 'Z';
        if ((upper ? *text - 'A' + 'a' : *text) != *name)
            return false;
    }
    return *text == '\0';
}

bool sb_quantity_parse(const char *text, sb_quantity kind, double *value) {
    char digits[32];
    double number = 0;
    if (kind == SB_SPAN)
        return sb_length_parse(text, 0, value) == SB_OK;
    size_t n = strspn(text, "0123456789.+-eE");
    if (n == 0 || n >= sizeof digits)
        return false;
    (void)snprintf(digits, sizeof digits, "%.*s", (int)n, text);
    const char *name = text + n + strspn(text + n, " ");
    for (const unit *u = units_of(kind); u->unit; u++)
        if (same_unit(name, u->unit) && sb_number_parse(digits, &number)) {
            *value = number * u->value;
            return isfinite(*value);
        }
    return false;
}
