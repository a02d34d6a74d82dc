#include "tests/support/beam.h"

#include <math.h>
#include <string.h>

#define PI        3.14159265358979323846
#define UNKNOWNS  (2 * BEAM_NODES)
#define BAND      4 /* the diagonal and three below */
#define MAX_STEPS 200

/* band[i][k] is the element in row i, column i - k. */
typedef struct {
    double row[UNKNOWNS][BAND];
} banded;

static banded stiffness, inertia, factor;

void beam_begin(beam *b, double tension_n, double bending_nm2, double mass_kg_m) {
    memset(b, 0, sizeof *b);
    b->tension_n = tension_n;
    b->bending_nm2 = bending_nm2;
    b->mass_kg_m = mass_kg_m;
    b->n = 1;
    b->held[0] = true;
}

void beam_add(beam *b, double length_m, size_t elements, bool held) {
    const double start = b->x[b->n - 1];
    for (size_t i = 1; i <= elements && b->n < BEAM_NODES; i++)
        b->x[b->n++] = start + length_m * (double)i / (double)elements;
    b->held[b->n - 1] = held;
}

/* Adds a 4 by 4 element matrix, each entry scaled by h for a slope, at node i. */
static void add_element(banded *m, size_t i, double h, double factor_of, const double e[4][4]) {
    for (size_t r = 0; r < 4; r++)
        for (size_t c = 0; c <= r; c++)
            m->row[2 * i + r][r - c] += factor_of * e[r][c] * (r % 2 ? h : 1.0) * (c % 2 ? h : 1.0);
}

static void assemble(const beam *b, banded *k, double tension, double bending, banded *m) {
    static const double bend[4][4] = {
        {12, 6, -12, 6}, {6, 4, -6, 2}, {-12, -6, 12, -6}, {6, 2, -6, 4}};
    static const double pull[4][4] = {
        {36, 3, -36, 3}, {3, 4, -3, -1}, {-36, -3, 36, -3}, {3, -1, -3, 4}};
    static const double mass[4][4] = {
        {156, 22, 54, -13}, {22, 4, 13, -3}, {54, 13, 156, -22}, {-13, -3, -22, 4}};
    memset(k, 0, sizeof *k);
    memset(m, 0, sizeof *m);
    for (size_t i = 0; i + 1 < b->n; i++) {
        const double h = b->x[i + 1] - b->x[i];
        add_element(k, i, h, bending / (h * h * h), bend);
        add_element(k, i, h, tension / (30.0 * h), pull);
        add_element(m, i, h, b->mass_kg_m * h / 420.0, mass);
    }
}

static bool fixed(const beam *b, size_t unknown) {
    return unknown % 2 ? b->clamped[unknown / 2] : b->held[unknown / 2];
}

static double entry(const banded *m, size_t r, size_t c) {
    return r >= c ? (r - c < BAND ? m->row[r][r - c] : 0.0) : entry(m, c, r);
}

static void multiply(const banded *m, size_t n, const double x[], double y[]) {
    for (size_t r = 0; r < n; r++) {
        y[r] = 0.0;
        for (size_t c = r < 3 ? 0 : r - 3; c <= r + 3 && c < n; c++)
            y[r] += entry(m, r, c) * x[c];
    }
}

/* Cholesky of the stiffness with fixed unknowns as identity rows. */
static void factorize(const beam *b, size_t n) {
    for (size_t r = 0; r < n; r++)
        for (size_t k = 0; k < BAND && k <= r; k++) {
            const size_t c = r - k;
            const bool out = fixed(b, r) || fixed(b, c);
            factor.row[r][k] = out ? (k == 0 ? 1.0 : 0.0) : stiffness.row[r][k];
        }
    for (size_t r = 0; r < n; r++)
        for (size_t c = r < 3 ? 0 : r - 3; c <= r; c++) {
            double sum = factor.row[r][r - c];
            for (size_t j = r < 3 ? 0 : r - 3; j < c; j++)
                if (c - j < BAND)
                    sum -= factor.row[r][r - j] * factor.row[c][c - j];
            factor.row[r][r - c] = r == c ? sqrt(sum) : sum / factor.row[c][0];
        }
}

static void solve(size_t n, double x[]) {
    for (size_t r = 0; r < n; r++) {
        for (size_t c = r < 3 ? 0 : r - 3; c < r; c++)
            x[r] -= factor.row[r][r - c] * x[c];
        x[r] /= factor.row[r][0];
    }
    for (size_t r = n; r-- > 0;) {
        for (size_t c = r + 1; c < n && c <= r + 3; c++)
            x[r] -= factor.row[c][c - r] * x[c];
        x[r] /= factor.row[r][0];
    }
}

static double dot(const double a[], const double b[], size_t n) {
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

double beam_first_hz(const beam *b) {
    static double y[UNKNOWNS], my[UNKNOWNS];
    const size_t n = 2 * b->n;
    double square = 0.0, last = -1.0;
    assemble(b, &stiffness, b->tension_n, b->bending_nm2, &inertia);
    factorize(b, n);
    for (size_t i = 0; i < n; i++)
        y[i] = fixed(b, i) ? 0.0 : 1.0 + 0.3 * (double)(i % 7);
    for (int k = 0; k < MAX_STEPS && fabs(square - last) > 1e-14 * fabs(square); k++) {
        multiply(&inertia, n, y, my);
        for (size_t i = 0; i < n; i++)
            my[i] = fixed(b, i) ? 0.0 : my[i];
        last = square;
        /* Rayleigh's quotient of the next iterate: y' K y = y' my before it is scaled. */
        memcpy(y, my, n * sizeof *y);
        solve(n, y);
        const double stiff = dot(y, my, n);
        multiply(&inertia, n, y, my);
        const double heavy = dot(y, my, n);
        square = stiff / heavy;
        const double scale = 1.0 / sqrt(heavy);
        for (size_t i = 0; i < n; i++)
            y[i] *= scale;
    }
    return sqrt(square) / (2.0 * PI);
}

double beam_growth_m(const beam *b) {
    static double y[UNKNOWNS], pull[UNKNOWNS];
    const size_t n = 2 * b->n;
    assemble(b, &stiffness, b->tension_n, b->bending_nm2, &inertia);
    factorize(b, n);
    for (size_t i = 0; i < n; i++)
        y[i] = i % 2 == 0 && b->held[i / 2] ? b->aside[i / 2] : 0.0;
    multiply(&stiffness, n, y, pull);
    for (size_t i = 0; i < n; i++)
        y[i] = fixed(b, i) ? y[i] : -pull[i];
    solve(n, y);
    assemble(b, &stiffness, 1.0, 0.0, &inertia);
    multiply(&stiffness, n, y, pull);
    return 0.5 * dot(y, pull, n);
}
