/* What people read, word for word. The figures come from the closed form of core/saddle.h
 * solved apart by bisection, S = 647.7 mm: +5 cents ask for 1.85730 mm (4.680 sixty-fourths,
 * 3.71 turns of an M3 screw), -5 for -1.88431, +25 for 9.03568, -2 for -0.75042, +7 for
 * 2.59288, +0.4 for 0.14956, -12 for -4.56982. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/print.h"
#include "tests/support/plucked.h"

static sb_setting setting;
static sb_take *take;
static sb_measurement *m;
static char *text;
static size_t size;
static sb_page page;

static void begin(bool styled) {
    free(text);
    text = NULL;
    page = (sb_page){open_memstream(&text, &size), styled};
    assert_non_null(page.out);
}

static void expect(const char *want) {
    assert_int_equal(fclose(page.out), 0);
    assert_string_equal(text, want);
}

static int set_up(void **state) {
    (void)state;
    setting = sb_setting_default();
    setting.scale_mm = 647.7;
    take = plucked_take();
    m = malloc(sizeof *m);
    return m ? 0 : -1;
}

static int tear_down(void **state) {
    (void)state;
    free(take);
    free(m);
    free(text);
    text = NULL;
    return 0;
}

static void expect_answer(double cents, double std_error_cents, const char *want) {
    sb_answer a = sb_answer_for(&setting, cents, std_error_cents);
    begin(false);
    sb_print_answer(&page, &setting, &a);
    expect(want);
}

static void signed_numbers_have_no_negative_zero(void **state) {
    (void)state;
    char out[32];
    sb_format_signed(-0.004, 2, out, sizeof out);
    assert_string_equal(out, "+0.00");
    sb_format_signed(-0.006, 2, out, sizeof out);
    assert_string_equal(out, "-0.01");
    sb_format_signed(-0.4, 0, out, sizeof out);
    assert_string_equal(out, "+0");
}

static void errors_have_the_decimals_that_they_deserve(void **state) {
    (void)state;
    char out[64];
    sb_format_error(4.6111, 0.05, out, sizeof out);
    assert_string_equal(out, "+4.61 ± 0.05 cents");
    sb_format_error(-4.6111, 0.004, out, sizeof out);
    assert_string_equal(out, "-4.611 ± 0.004 cents");
    sb_format_error(4.6, 0, out, sizeof out);
    assert_string_equal(out, "+4.60 cents");
}

static void a_move_back(void **state) {
    (void)state;
    setting.thread_mm = 0.5;
    expect_answer(5, 0.1,
                  "move the saddle 1.86 mm BACK, away from the nut\n"
                  "    4½/64 in, or 3 ¾ turns clockwise as you face the screw's head\n"
                  "\n"
                  "    octave error  +5.00 ± 0.10 cents, the fretted note is sharp\n"
                  "    move          +1.86 ± 0.04 mm, or +4.68/64 in; by rule of thumb +1.87 mm\n"
                  "\n"
                  "    Slacken the string before moving its saddle; then tune it to pitch and\n"
                  "    measure again.\n");
}

static void a_move_forward_with_a_screw_that_pushes(void **state) {
    (void)state;
    setting.thread_mm = 0.5;
    setting.screw = SB_SCREW_PUSHES;
    expect_answer(-5, 0,
                  "move the saddle 1.88 mm FORWARD, towards the nut\n"
                  "    4½/64 in, or 3 ¾ turns clockwise as you face the screw's head\n"
                  "\n"
                  "    octave error  -5.00 cents, the fretted note is flat\n"
                  "    move          -1.88 mm, or -4.75/64 in; by rule of thumb -1.87 mm\n"
                  "\n"
                  "    Slacken the string before moving its saddle; then tune it to pitch and\n"
                  "    measure again.\n");
}

static void a_move_without_a_screw(void **state) {
    (void)state;
    expect_answer(25, 0.1,
                  "move the saddle 9.04 mm BACK, away from the nut\n"
                  "    23/64 in\n"
                  "\n"
                  "    octave error  +25.00 ± 0.10 cents, the fretted note is sharp\n"
                  "    move          +9.04 ± 0.03 mm, or +22.77/64 in; by rule of thumb +9.35 mm\n"
                  "\n"
                  "    So large an error is seldom the saddle's alone: look at the nut slot, the\n"
                  "    fret, the string's age and the action first.\n"
                  "    Slacken the string before moving its saddle; then tune it to pitch and\n"
                  "    measure again.\n");
}

static void a_move_below_an_eighth_of_a_turn(void **state) {
    (void)state;
    setting.thread_mm = 3;
    setting.tolerance_cents = 0.1;
    expect_answer(0.4, 0.01,
                  "move the saddle 0.15 mm BACK, away from the nut\n"
                  "    ½/64 in, less than an eighth of a turn\n"
                  "\n"
                  "    octave error  +0.40 ± 0.01 cents, the fretted note is sharp\n"
                  "    move          +0.15 mm, or +0.38/64 in; by rule of thumb +0.15 mm\n"
                  "\n"
                  "    Slacken the string before moving its saddle; then tune it to pitch and\n"
                  "    measure again.\n");
}

static void leave_it(void **state) {
    (void)state;
    expect_answer(0.9, 0.1,
                  "leave the saddle where it is\n"
                  "    the error is within the tolerance of 1 cent\n"
                  "\n"
                  "    octave error  +0.90 ± 0.10 cents, the fretted note is sharp\n"
                  "    would be      +0.34 ± 0.04 mm, or +0.85/64 in; by rule of thumb +0.34 mm\n");
    expect_answer(-2, 3,
                  "leave the saddle where it is\n"
                  "    the error is smaller than its own uncertainty\n"
                  "\n"
                  "    octave error  -2.00 ± 3.00 cents, the fretted note is flat\n"
                  "    would be      -0.75 ± 1.13 mm, or -1.89/64 in; by rule of thumb -0.75 mm\n");
}

static void measure_again(void **state) {
    (void)state;
    expect_answer(7, 8,
                  "measure again before moving anything\n"
                  "    the uncertainty is too large to set a saddle by: pluck more often, softly,\n"
                  "    and let each note ring\n"
                  "\n"
                  "    octave error  +7.00 ± 8.00 cents, the fretted note is sharp\n"
                  "    would be      +2.59 ± 2.93 mm, or +6.53/64 in; by rule of thumb +2.62 mm\n");
}

static void only_a_terminal_gets_bold(void **state) {
    (void)state;
    sb_answer a = sb_answer_for(&setting, 0.5, 0.1);
    begin(true);
    sb_print_answer(&page, &setting, &a);
    assert_int_equal(fclose(page.out), 0);
    assert_memory_equal(text, "\033[1mleave the saddle where it is\033[0m\n", 37);
    assert_null(strchr(text + 37, '\033'));
}

static void measure(void) {
    sb_task task = {.setting = &setting, .note = -1000, .a4_hz = 440};
    assert_int_equal(sb_measure_take(&task, take, m), SB_MEASURED);
}

static void add_partial(sb_reading *r, int number, unsigned flags) {
    r->partials[r->n_partials++] = (sb_partial){.number = number,
                                                .hz = number * r->hz,
                                                .std_error_cents = 0.01,
                                                .level_dbfs = -30,
                                                .decay_per_s = 1.5,
                                                .departure_cents = -0.25,
                                                .weight = 0.5,
                                                .flags = flags};
}

static void fill_take(void) {
    sb_reading r = plucked_good(0.5, 82.41, 0.1);
    for (int n = 1; n <= 3; n++)
        add_partial(&r, n, SB_PARTIAL_BEATING | (n == 1 ? (unsigned)SB_PARTIAL_PULLED : 0));
    add_partial(&r, 5, SB_PARTIAL_BEATING);
    add_partial(&r, 6, SB_PARTIAL_WEAK);
    sb_take_add(take, &r);
    r = plucked_good(3.5, plucked_raised(2 * 82.41, 5), 0.1);
    add_partial(&r, 1, SB_PARTIAL_HUM);
    sb_take_add(take, &r);
    r = plucked_bad(6.5, SB_PLUCK_CLIPPED, 82.5);
    sb_take_add(take, &r);
    r = plucked_bad(9.5, SB_PLUCK_NO_PITCH, 0);
    sb_take_add(take, &r);
}

static void a_string_with_all_its_facts(void **state) {
    (void)state;
    sb_task task = {.setting = &setting, .note = -1000, .a4_hz = 440};
    char want[1600];
    fill_take();
    measure();
    begin(false);
    sb_print_measurement(&page, &task, m);
    (void)snprintf(
        want, sizeof want,
        "E2: move the saddle 1.86 mm BACK, away from the nut\n"
        "    4½/64 in\n"
        "\n"
        "    octave error  +5.00 ± 0.14 cents, the fretted note is sharp\n"
        "    move          +1.86 ± 0.05 mm, or +4.68/64 in; by rule of thumb +1.87 mm\n"
        "    by harmonic   +4.74 cents, against the open string's 12th-fret harmonic\n"
        "    open          82.410 Hz ± 0.1 cents, E2 +0.1 cents; 1 pluck\n"
        "                  level -21 dBFS, noise 50 dB below; glide 2.0 cents; B 1.0e-04\n"
        "    fret 12       165.297 Hz ± 0.1 cents, E3 +5.1 cents; 1 pluck\n"
        "                  level -21 dBFS, noise 50 dB below; glide 2.0 cents; B 1.0e-04\n"
        "    partials      open: pulled 1; beating 1-3 5\n"
        "    partials      fretted: on mains hum 1\n"
        "    left out      open pluck at 6.5 s: %s\n"
        "                  a pluck at 9.5 s: %s\n"
        "\n"
        "    Slacken the string before moving its saddle; then tune it to pitch and\n"
        "    measure again.\n",
        sb_pluck_fault_text(SB_PLUCK_CLIPPED), sb_pluck_fault_text(SB_PLUCK_NO_PITCH));
    expect(want);
}

/* Three pairs, all 1 cent above what the pitches say, on strings without stiffness. */
static void pairs_that_disagree(void **state) {
    (void)state;
    sb_task task = {.setting = &setting, .note = -1000, .a4_hz = 440};
    sb_reading r = plucked_good(0.5, 82.41, 0.1);
    r.inharmonicity = r.inharmonicity_std_error = 0;
    for (int n = 1; n <= 6; n++)
        add_partial(&r, n, 0);
    sb_take_add(take, &r);
    r = plucked_good(3.5, plucked_raised(2 * 82.41, 5), 0.1);
    r.inharmonicity = r.inharmonicity_std_error = 0;
    for (int n = 1; n <= 3; n++) {
        add_partial(&r, n, 0);
        r.partials[n - 1].hz = plucked_raised(n * r.hz, 1);
    }
    sb_take_add(take, &r);
    measure();
    begin(false);
    sb_print_measurement(&page, &task, m);
    assert_int_equal(fflush(page.out), 0);
    assert_non_null(
        strstr(text, "    octave error  +5.00 ± 0.52 cents, the fretted note is sharp\n"));
    assert_non_null(strstr(
        text, "12th-fret harmonic\n"
              "    by pairs      partials at the same pitch say +6.000 ± 0.008 cents instead,\n"
              "                  so the error was widened\n"
              "    open "));
    (void)fclose(page.out);
    begin(false);
    sb_print_partials(&page, m);
    assert_int_equal(fclose(page.out), 0);
    assert_non_null(strstr(
        text, "\n\nopen 2 4 6 ... against fretted 1 2 3 ...: +6.000 ± 0.008 cents, 3 pairs\n"));
}

static void the_partials(void **state) {
    (void)state;
    fill_take();
    measure();
    begin(false);
    sb_print_partials(&page, m);
    expect("\nopen, pluck at 0.5 s\n"
           "  n         Hz    ± cents   dBFS  decay/s  off series  weight\n"
           "  1     82.410     0.0100    -30     1.50       -0.25   50.0%  pulled, beating\n"
           "  2    164.820     0.0100    -30     1.50       -0.25   50.0%  beating\n"
           "  3    247.230     0.0100    -30     1.50       -0.25   50.0%  beating\n"
           "  5    412.050     0.0100    -30     1.50       -0.25   50.0%  beating\n"
           "  6    494.460     0.0100    -30     1.50       -0.25   50.0%  weak\n"
           "\nfretted, pluck at 3.5 s\n"
           "  n         Hz    ± cents   dBFS  decay/s  off series  weight\n"
           "  1    165.297     0.0100    -30     1.50       -0.25   50.0%  on mains hum\n");
}

static void add_row(double error_cents, double std_error_cents) {
    sb_task task = {.setting = &setting, .note = -1000, .a4_hz = 440};
    sb_take_reset(take);
    sb_reading r = plucked_good(0, 82.41, std_error_cents);
    sb_take_add(take, &r);
    r = plucked_good(3, plucked_raised(2 * 82.41, error_cents), std_error_cents);
    sb_take_add(take, &r);
    measure();
    sb_print_table_row(&page, &task, m);
}

static void a_table_of_strings(void **state) {
    (void)state;
    setting.thread_mm = 0.5;
    begin(false);
    sb_print_table_head(&page, &setting);
    add_row(5, 0.1);
    add_row(-12, 0.005);
    add_row(0.4, 0.1);
    add_row(20, 9);
    sb_print_table_foot(&page, true, true);
    expect("string  octave error          move saddle      ruler      turns, facing the screw\n"
           "E2      +5.00 ± 0.14 cents    BACK 1.86 mm     4½/64 in   3 ¾ clockwise\n"
           "E2      -12.000 ± 0.007 cents FORWARD 4.57 mm  11½/64 in  9 ⅛ anticlockwise\n"
           "E2      +0.40 ± 0.14 cents    leave\n"
           "E2      +20.00 ± 12.73 cents  measure again\n"
           "\n"
           "So large an error is seldom the saddle's alone: look at the nut slot, the\n"
           "fret, the string's age and the action first.\n"
           "BACK is away from the nut, FORWARD towards it. Slacken the string before\n"
           "moving its saddle; then tune it to pitch and measure again.\n");
}

static void inputs_with_hostile_names(void **state) {
    (void)state;
    const sb_device devices[] = {
        {.index = 0, .name = "desk", .host_api = "ALSA", .channels = 2, .default_rate_hz = 48000},
        {.index = 11,
         .name = "\033[2Jx",
         .host_api = "JACK",
         .channels = 32,
         .default_rate_hz = 192000,
         .is_default = 1},
    };
    begin(false);
    sb_print_inputs(&page, devices, 2);
    expect("index  channels  rate    host api      name\n"
           "    0         2  48000   ALSA          desk\n"
           "   11        32  192000  JACK          ?[2Jx  (default)\n");
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(signed_numbers_have_no_negative_zero),
        cmocka_unit_test(errors_have_the_decimals_that_they_deserve),
        TEST(a_move_back),
        TEST(a_move_forward_with_a_screw_that_pushes),
        TEST(a_move_without_a_screw),
        TEST(a_move_below_an_eighth_of_a_turn),
        TEST(leave_it),
        TEST(measure_again),
        TEST(only_a_terminal_gets_bold),
        TEST(a_string_with_all_its_facts),
        TEST(pairs_that_disagree),
        TEST(the_partials),
        TEST(a_table_of_strings),
        TEST(inputs_with_hostile_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
