/* Maps of pickups and positions, judged: what is live, weak and dead is put in as levels. */
#include <string.h>

#include "core/tapmap.h"
#include "tests/support/within.h"

enum { NECK, MIDDLE, BRIDGE };

/* Rows are positions of three pickups, a letter each: L, W and D by their level, - not heard, ?
 * not tried. Meant: 1 or 0. */
static sb_tapmap map_of(const char *const heard[], const char *const meant[], size_t positions) {
    sb_tapmap m = {.n_positions = positions,
                   .n_pickups = 3,
                   .weak_db = SB_TAP_WEAK_DB,
                   .dead_db = SB_TAP_DEAD_DB};
    for (size_t p = 0; p < positions; p++)
        for (size_t q = 0; q < 3; q++) {
            sb_tap_cell *c = &m.cell[p][q];
            char as = heard[p][q];
            c->tried = as != '?';
            c->heard = c->tried && as != '-';
            c->level_dbfs = as == 'L' ? -20 : as == 'W' ? -43 : -60;
            c->std_error_db = 1;
            m.has_meant[p] = meant != NULL;
            m.meant[p][q] = meant && meant[p][q] == '1';
        }
    return m;
}

static const char *const five_way[] = {"001", "011", "010", "110", "100"};

static void limits(void **state) {
    (void)state;
    sb_tapmap m = map_of((const char *const[]){"LLL", "L-?"}, NULL, 2);
    m.cell[0][MIDDLE].level_dbfs = -31.9; /* 11.9 dB below the loudest: live, but not surely */
    m.cell[0][BRIDGE].level_dbfs = -44.1; /* 24.1 dB below: dead, but not surely */
    m.cell[1][NECK].level_dbfs = -38;
    assert_true(sb_tapmap_judge(&m));
    assert_int_equal(m.cell[0][NECK].verdict, SB_TAP_LIVE);
    assert_true(m.cell[0][NECK].sure);
    assert_int_equal(m.cell[0][MIDDLE].verdict, SB_TAP_LIVE);
    assert_false(m.cell[0][MIDDLE].sure);
    assert_within(m.cell[0][MIDDLE].relative_db, -11.9, 1e-12);
    assert_int_equal(m.cell[0][BRIDGE].verdict, SB_TAP_DEAD);
    assert_false(m.cell[0][BRIDGE].sure);
    assert_int_equal(m.cell[1][NECK].verdict, SB_TAP_WEAK);
    assert_int_equal(m.cell[1][MIDDLE].verdict, SB_TAP_DEAD);
    assert_int_equal(m.cell[1][BRIDGE].verdict, SB_TAP_UNTRIED);
}

/* Of two in parallel each loses 6.02 dB, of three 9.54. */
static void sharing_is_allowed_for(void **state) {
    (void)state;
    sb_tapmap m =
        map_of((const char *const[]){"L-L", "LLL"}, (const char *const[]){"101", "111"}, 2);
    m.cell[0][BRIDGE].level_dbfs = -38;
    m.cell[1][BRIDGE].level_dbfs = -41.5;
    assert_true(sb_tapmap_judge(&m));
    assert_int_equal(m.cell[0][BRIDGE].verdict, SB_TAP_LIVE);
    assert_int_equal(m.cell[1][BRIDGE].verdict, SB_TAP_LIVE);
    m.cell[0][BRIDGE].level_dbfs = -38.1;
    m.cell[1][BRIDGE].level_dbfs = -41.6;
    assert_true(sb_tapmap_judge(&m));
    assert_int_equal(m.cell[0][BRIDGE].verdict, SB_TAP_WEAK);
    assert_int_equal(m.cell[1][BRIDGE].verdict, SB_TAP_WEAK);
}

static void nothing_heard(void **state) {
    (void)state;
    sb_tapmap m = map_of((const char *const[]){"---"}, NULL, 1);
    assert_false(sb_tapmap_judge(&m));
}

typedef struct {
    const char *heard[5];
    size_t n;
    sb_tap_finding want[4];
} row;

static void findings(void **state) {
    (void)state;
    const row rows[] = {
        {{"--L", "DLL", "-L-", "LLD", "L--"}, 0, {{0}}},
        {{"--L", "-DL", "-L-", "LL-", "L--"}, 1, {{SB_TAP_MISSING, 1, MIDDLE, 0}}},
        {{"--L", "-WL", "-L-", "LL-", "L--"}, 1, {{SB_TAP_FAINT, 1, MIDDLE, 0}}},
        {{"--L", "--L", "---", "L--", "L--"}, 1, {{SB_TAP_PICKUP_DEAD, 0, MIDDLE, 0}}},
        {{"--L", "-WL", "-W-", "LW-", "L--"}, 1, {{SB_TAP_PICKUP_WEAK, 0, MIDDLE, 0}}},
        {{"--L", "-LL", "---", "LL-", "L--"}, 1, {{SB_TAP_POSITION_DEAD, 2, 0, 0}}},
        {{"L-L", "-LL", "-L-", "LL-", "L--"}, 1, {{SB_TAP_EXTRA, 0, NECK, 0}}},
        {{"W-L", "-LL", "-L-", "LL-", "L--"}, 1, {{SB_TAP_LEAKS, 0, NECK, 0}}},
        {{"L--", "LL-", "-L-", "-LL", "--L"}, 1, {{SB_TAP_REVERSED, 0, 0, 0}}},
        {{"-L-", "-LL", "--L", "L-L", "L--"}, 1, {{SB_TAP_EXCHANGED, 0, MIDDLE, BRIDGE}}},
        {{"--L", "?LL", "-?-", "LL-", "???"}, 0, {{0}}},
        {{"--L", "-DL", "-L-", "LLL", "L--"},
         2,
         {{SB_TAP_MISSING, 1, MIDDLE, 0}, {SB_TAP_EXTRA, 3, BRIDGE, 0}}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sb_tapmap m = map_of(rows[i].heard, five_way, 5);
        sb_tap_finding got[SB_TAP_FINDINGS] = {{0}};
        assert_true(sb_tapmap_judge(&m));
        assert_int_equal(sb_tapmap_compare(&m, got), rows[i].n);
        for (size_t k = 0; k < rows[i].n; k++) {
            assert_int_equal(got[k].trouble, rows[i].want[k].trouble);
            assert_int_equal(got[k].position, rows[i].want[k].position);
            assert_int_equal(got[k].pickup, rows[i].want[k].pickup);
            assert_int_equal(got[k].other, rows[i].want[k].other);
        }
    }
}

static void without_what_is_meant(void **state) {
    (void)state;
    sb_tapmap m = map_of((const char *const[]){"--L", "-L-"}, NULL, 2);
    sb_tap_finding got[SB_TAP_FINDINGS];
    assert_true(sb_tapmap_judge(&m));
    assert_int_equal(sb_tapmap_compare(&m, got), 0);
    assert_string_equal(sb_tap_verdict_text(SB_TAP_WEAK), "weak");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(limits),
        cmocka_unit_test(sharing_is_allowed_for),
        cmocka_unit_test(nothing_heard),
        cmocka_unit_test(findings),
        cmocka_unit_test(without_what_is_meant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
