/* Live capture for real: a private PulseAudio plays tones of known frequency into a null
 * sink, and PortAudio's ALSA host captures the sink's monitor. Then the server is stopped,
 * suspended and killed. The frequency is judged by the drift of a phase, which shares
 * nothing with the program's own pitch reading. */
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>
#include <sndfile.h>

#include "audio/callback.h"
#include "audio/capture.h"
#include "audio/devices.h"
#include "audio/errand.h"
#include "tests/support/pulse.h"

#define PI          3.14159265358979323846
#define LEFT_HZ     440.1234
#define RIGHT_HZ    1234.567
#define LEVEL       0.5
#define FILE_HZ     48000.0
#define FILE_FRAMES 288000 /* 6 s */

/* What the issue allows from a fault until the program has gone. */
#define LOST_S  3.0
#define CLOSE_S 1.0

/* cmocka's fail_msg writes to descriptor 2, which is away. */
#define fail_with(...)                                                                             \
    do {                                                                                           \
        print_message(__VA_ARGS__);                                                                \
        print_message("\n");                                                                       \
        fail();                                                                                    \
    } while (0)

static pulse server;
static char tones[128];

/* What a test holds, so that its end can release it after a failure too. */
static struct {
    sb_capture *capture;
    double rate_hz;
    pid_t player;
    float *sound;
    size_t n;
    size_t lost;
    bool suspended;
} now;

/* ---- an independent ear --------------------------------------------------------------- */

typedef struct {
    double re, im;
} phasor;

/* Mean of samples times exp(-2 pi i hz t) under a Hann window; its length is half a tone's
 * amplitude. `first` keeps the phase across calls. */
static phasor mix_down(const float samples[], size_t first, size_t n, double rate_hz, double hz) {
    phasor sum = {0};
    for (size_t i = 0; i < n; i++) {
        double angle = 2 * PI * fmod(hz * (double)(first + i) / rate_hz, 1.0);
        double weight = (1 - cos(2 * PI * ((double)i + 0.5) / (double)n)) / (double)n;
        sum.re += weight * cos(angle) * (double)samples[first + i];
        sum.im -= weight * sin(angle) * (double)samples[first + i];
    }
    return sum;
}

static double turns_between(phasor a, phasor b) {
    return atan2(b.im * a.re - b.re * a.im, b.re * a.re + b.im * a.im) / (2 * PI);
}

/* How far the tone near hz lies above it, from the phases of the first and last eighths. */
static double cents_above(const float samples[], size_t n, double rate_hz, double hz) {
    size_t part = n / 8;
    phasor a = mix_down(samples, 0, part, rate_hz, hz);
    phasor b = mix_down(samples, n - part, part, rate_hz, hz);
    double found_hz = hz + turns_between(a, b) * rate_hz / (double)(n - part);
    return 1200 * log2(found_hz / hz);
}

static double amplitude(const float samples[], size_t n, double rate_hz, double hz) {
    phasor a = mix_down(samples, 0, n, rate_hz, hz);
    return 2 * hypot(a.re, a.im);
}

static void the_independent_ear_hears_a_known_detuning(void **state) {
    (void)state;
    enum { N = 96000 };
    static float samples[N];
    static const double detunings[] = {0, 0.003, -0.02, 0.3};
    for (size_t d = 0; d < sizeof detunings / sizeof *detunings; d++) {
        double hz = LEFT_HZ * exp2(detunings[d] / 1200);
        for (size_t i = 0; i < N; i++)
            samples[i] = (float)(LEVEL * sin(2 * PI * hz * (double)i / FILE_HZ));
        assert_true(fabs(cents_above(samples, N, FILE_HZ, LEFT_HZ) - detunings[d]) < 1e-4);
        assert_true(fabs(amplitude(samples, N, FILE_HZ, hz) - LEVEL) < 1e-3);
        assert_true(amplitude(samples, N, FILE_HZ, RIGHT_HZ) < 1e-5);
    }
}

/* ---- set-up --------------------------------------------------------------------------- */

static float tone(double hz, size_t i) {
    return (float)(LEVEL * sin(2 * PI * fmod(hz * (double)i / FILE_HZ, 1.0)));
}

/* Left and right a tone each. */
static bool write_tones(const char *path) {
    static float frames[FILE_FRAMES][2];
    SF_INFO info = {
        .samplerate = (int)FILE_HZ, .channels = 2, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    for (size_t i = 0; i < FILE_FRAMES; i++) {
        frames[i][0] = tone(LEFT_HZ, i);
        frames[i][1] = tone(RIGHT_HZ, i);
    }
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    bool good = file != NULL && sf_writef_float(file, frames[0], FILE_FRAMES) == FILE_FRAMES;
    return file != NULL && sf_close(file) == 0 && good;
}

static int start_server(void **state) {
    (void)state;
    bool good = pulse_start(&server);
    snprintf(tones, sizeof tones, "%s/tones.wav", server.folder);
    if (good && write_tones(tones))
        return 0;
    pulse_stop(&server);
    return -1;
}

static int stop_server(void **state) {
    (void)state;
    pulse_stop(&server);
    return 0;
}

static bool suspend(bool on) {
    now.suspended = on;
    return pulse_control("suspend-sink", "bench", on ? "1" : "0");
}

/* A closing that overran its time, on a slow machine perhaps, comes home. */
static bool wait_for_errands(void) {
    for (int i = 0; i < 500 && sb_errand_out(); i++)
        sb_sleep_s(0.01);
    return !sb_errand_out();
}

static int quiet(void **state) {
    (void)state;
    memset(&now, 0, sizeof now);
    chatter_off();
    return 0;
}

static int clean_up(void **state) {
    (void)state;
    pulse_signal(&server, SIGCONT);
    sb_capture_close(now.capture);
    pulse_hush(now.player);
    free(now.sound);
    if (now.suspended)
        suspend(false);
    wait_for_errands();
    chatter_on();
    return 0;
}

static void play(const char *sink) {
    now.player = pulse_play(tones, sink);
    assert_true(now.player > 0);
}

static sb_status try_open(const char *device, double rate_hz, int channel, double buffer_s) {
    sb_capture_options options = {
        .device = device, .rate_hz = rate_hz, .channel = channel, .buffer_s = buffer_s};
    return sb_capture_open(&options, &now.rate_hz, &now.capture);
}

static void open_capture(const char *device, double rate_hz, int channel, double buffer_s) {
    assert_int_equal(try_open(device, rate_hz, channel, buffer_s), SB_OK);
}

static void close_capture(void) {
    double start_s = sb_clock_s();
    sb_capture_close(now.capture);
    now.capture = NULL;
    assert_true(sb_clock_s() - start_s < CLOSE_S);
}

static void make_room(double seconds) {
    free(now.sound);
    now.n = now.lost = 0;
    now.sound = calloc((size_t)(seconds * now.rate_hz) + 1, sizeof *now.sound);
    assert_non_null(now.sound);
}

/* Reads until so many seconds are there, and adds up what was lost on the way. */
static void record(double seconds) {
    make_room(seconds);
    size_t wanted = (size_t)(seconds * now.rate_hz);
    double end_s = sb_clock_s() + seconds + 4;
    while (now.n < wanted && sb_clock_s() < end_s) {
        size_t n, lost;
        assert_int_equal(
            sb_capture_read(now.capture, now.sound + now.n, wanted - now.n, 0.2, &n, &lost), SB_OK);
        now.n += n;
        now.lost += lost;
    }
    assert_int_equal(now.n, wanted);
}

/* Reads until the tones are there, and a little more, so that nothing of the start is left. */
static void wait_for_tones(void) {
    double level = 0;
    for (int i = 0; i < 60 && level < LEVEL / 2; i++) {
        record(0.1);
        level = 0;
        for (size_t k = 0; k < now.n; k++)
            level = fmax(level, fabs((double)now.sound[k]));
    }
    assert_true(level >= LEVEL / 2);
    record(0.2);
}

static void expect_tone(double hz, double within_cents, double other_hz) {
    double cents = cents_above(now.sound, now.n, now.rate_hz, hz);
    if (!(fabs(cents) <= within_cents))
        fail_with("%.4f Hz came back %.5f cents away", hz, cents);
    assert_true(fabs(amplitude(now.sound, now.n, now.rate_hz, hz) - LEVEL) < 0.02 * LEVEL);
    assert_true(amplitude(now.sound, now.n, now.rate_hz, other_hz) < 1e-3 * LEVEL);
}

/* ---- the callback --------------------------------------------------------------------- */

static const float left[4] = {1, 2, 3, 4}, right[4] = {-1, -2, -3, -4};
static const float *const both[2] = {left, right};

/* One call of the callback at a time of PortAudio's clock. */
static void call(sb_intake *intake, const void *input, unsigned long n, PaStreamCallbackFlags flags,
                 double clock_s) {
    const PaStreamCallbackTimeInfo time = {.currentTime = clock_s};
    assert_int_equal(sb_callback(input, NULL, n, &time, flags, intake), paContinue);
}

static void expect_samples(sb_intake *intake, size_t n, const float samples[], size_t lost) {
    float out[8];
    size_t was_lost = 999;
    assert_int_equal(sb_ring_read(intake->ring, out, 8, &was_lost), n);
    assert_int_equal(was_lost, lost);
    assert_memory_equal(out, samples, n * sizeof *out);
}

static void the_callback_takes_one_channel_and_counts_what_is_lost(void **state) {
    (void)state;
    float slots[4];
    sb_ring ring;
    sb_intake intake = {.ring = &ring, .channel = 1};
    assert_int_equal(sb_ring_init(&ring, slots, 4), SB_OK);
    call(&intake, both, 3, 0, 10);
    expect_samples(&intake, 3, right, 0);
    call(&intake, NULL, 5, 0, 10);
    call(&intake, both, 4, paInputOverflow, 10);
    expect_samples(&intake, 0, right, 0);
    call(&intake, both, 4, paInputUnderflow, 10);
    call(&intake, both, 4, 0, 10); /* does not fit */
    expect_samples(&intake, 4, right, 9);
    call(&intake, both, 1, 0, 10);
    expect_samples(&intake, 1, right, 4);
}

static void what_piles_up_in_a_pause_is_lost(void **state) {
    (void)state;
    float slots[4];
    sb_ring ring;
    sb_intake intake = {.ring = &ring, .channel = 0};
    assert_int_equal(sb_ring_init(&ring, slots, 4), SB_OK);
    call(&intake, both, 2, 0, 5);
    expect_samples(&intake, 2, left, 0);
    call(&intake, both, 2, 0, 5.9); /* late, but no pause */
    expect_samples(&intake, 2, left, 0);
    call(&intake, both, 3, 0, 30);
    call(&intake, both, 4, 0, 30.2);
    call(&intake, both, 4, 0, 30.3);
    expect_samples(&intake, 4, left, 7);
    call(&intake, both, 3, 0, 60);
    call(&intake, both, 4, 0, 20); /* a clock set back must not silence the device */
    expect_samples(&intake, 4, left, 3);
    call(&intake, both, 4, 0, 60.1 - 40);
    expect_samples(&intake, 4, left, 0);
}

/* ---- devices -------------------------------------------------------------------------- */

static void names_are_fit_to_show(void **state) {
    (void)state;
    static const char *const cases[][2] = {
        {"USB microphone", "USB microphone"},
        {"\x1b[2Jtwo\nlines\x7f", "?[2Jtwo?lines?"},
        {"K\xc3\xb6rper \xe2\x80\x93 \xe2\x82\xac", "K\xc3\xb6rper \xe2\x80\x93 \xe2\x82\xac"},
        {"\xc2\x9b"
         "31m",
         "??31m"}, /* C1 in UTF-8 */
        {"a\x9b"
         "31m",
         "a?31m"}, /* a stray C1 byte */
        {"", ""},
    };
    char name[SB_DEVICE_NAME_MAX], longer[2 * SB_DEVICE_NAME_MAX] = "";
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sb_devices_name(name, cases[i][0]);
        assert_string_equal(name, cases[i][1]);
    }
    for (size_t i = 0; i + 3 < sizeof longer; i += 3)
        memcpy(longer + i, "\xe2\x82\xac", 4);
    sb_devices_name(name, longer);
    assert_int_equal(strlen(name), (SB_DEVICE_NAME_MAX - 1) / 3 * 3);
    assert_memory_equal(name, longer, strlen(name));
}

static void a_device_is_found_by_name_part_or_index(void **state) {
    (void)state;
    static const sb_device devices[] = {
        {.index = 2, .name = "Front Mic"}, {.index = 3, .name = "Rear Mic", .is_default = 1},
        {.index = 7, .name = "Mic"},       {.index = 9, .name = "Line 3"},
        {.index = 11, .name = "Twin"},     {.index = 12, .name = "Twin"},
    };
    enum { NONE = 99 };
    static const struct {
        const char *wanted;
        size_t found, which;
    } cases[] = {
        {NULL, 1, 1},    {"3", 1, 1},          {"12", 1, 5},
        {"0", 0, NONE},  {"Mic", 1, 2},        {"mic", 3, 0},
        {"FRONT", 1, 0}, {"ear m", 1, 1},      {"e 3", 1, 3},
        {"Twin", 2, 4},  {"", 0, NONE},        {"Mike", 0, NONE},
        {"-1", 0, NONE}, {"Line 33", 0, NONE}, {"99999999999999999999", 0, NONE},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        size_t which = NONE;
        assert_int_equal(sb_devices_match(devices, 6, cases[i].wanted, &which), cases[i].found);
        assert_int_equal(which, cases[i].which);
    }
}

static const sb_device *named(const sb_device devices[], size_t n, const char *name) {
    for (size_t i = 0; i < n; i++)
        if (strcmp(devices[i].name, name) == 0)
            return &devices[i];
    fail_with("no device '%s'", name);
    return NULL;
}

static void devices_are_listed(void **state) {
    (void)state;
    sb_device devices[16], one[2] = {{.index = -5}, {.index = -5}};
    size_t n, defaults = 0;
    assert_int_equal(sb_devices_list(devices, 16, &n), SB_OK);
    assert_true(n >= 3 && n <= 16);
    for (size_t i = 0; i < n; i++) {
        assert_true(devices[i].channels > 0 && devices[i].default_rate_hz >= 8000);
        defaults += devices[i].is_default != 0;
    }
    assert_int_equal(defaults, 1);
    assert_true(named(devices, n, "default")->is_default);
    assert_string_equal(named(devices, n, "pulse")->host_api, "ALSA");
    assert_string_equal(named(devices, n, "slow")->host_api, "ALSA");

    size_t again;
    assert_int_equal(sb_devices_list(one, 1, &again), SB_OK);
    assert_int_equal(again, n);
    assert_string_equal(one[0].name, devices[0].name);
    assert_int_equal(one[1].index, -5);
}

static void a_device_that_is_not_there_is_refused(void **state) {
    (void)state;
    static const char *const names[] = {"no such microphone", "ul" /* pulse, default */, "", "77"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        assert_int_equal(try_open(names[i], 0, 0, 0), SB_E_NO_DEVICE);
}

static void impossible_settings_are_refused(void **state) {
    (void)state;
    static const double rates[] = {-1, (double)NAN, (double)INFINITY, 1e9, 3};
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++)
        assert_int_equal(try_open("pulse", rates[i], 0, 0), SB_E_RANGE);
    assert_int_equal(try_open("pulse", 0, -1, 0), SB_E_RANGE);
    assert_int_equal(try_open("pulse", 0, 1000, 0), SB_E_RANGE);
    assert_int_equal(try_open("pulse", 0, 0, -1), SB_E_RANGE);
    assert_int_equal(try_open("pulse", 0, 0, (double)NAN), SB_E_RANGE);
    assert_int_equal(try_open("pulse", 0, 0, 1e6), SB_E_RANGE);
}

/* ---- sound ---------------------------------------------------------------------------- */

static void a_tone_comes_back_exact_and_whole(void **state) {
    (void)state;
    play("bench");
    open_capture(NULL, FILE_HZ, 0, 0);
    assert_string_equal(sb_capture_device(now.capture), "default");
    assert_true(now.rate_hz == FILE_HZ);
    wait_for_tones();
    record(2.0);
    assert_int_equal(now.lost, 0);
    expect_tone(LEFT_HZ, 0.01, RIGHT_HZ); /* channel 0: the first, not a mix */
    close_capture();
}

static void channel_and_device_are_those_asked_for(void **state) {
    (void)state;
    char index[16];
    sb_device devices[16];
    size_t n;
    assert_int_equal(sb_devices_list(devices, 16, &n), SB_OK);
    snprintf(index, sizeof index, "%d", named(devices, n, "pulse")->index);
    const struct {
        const char *device, *name;
        int channel;
        double hz, other_hz;
    } cases[] = {
        {"PUL", "pulse", 2, RIGHT_HZ, LEFT_HZ},
        {index, "pulse", 1, LEFT_HZ, RIGHT_HZ},
    };
    play("bench");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        open_capture(cases[i].device, FILE_HZ, cases[i].channel, 0);
        assert_string_equal(sb_capture_device(now.capture), cases[i].name);
        wait_for_tones();
        record(0.3);
        assert_int_equal(now.lost, 0);
        expect_tone(cases[i].hz, 0.05, cases[i].other_hz);
        close_capture();
    }
}

static void the_rate_is_the_one_asked_for(void **state) {
    (void)state;
    static const double rates[][2] = {{0, 44100}, {8000, 8000}};
    play("bench");
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
        open_capture("pulse", rates[i][0], 1, 0);
        assert_true(now.rate_hz == rates[i][1]);
        wait_for_tones();
        record(0.3);
        assert_int_equal(now.lost, 0);
        expect_tone(LEFT_HZ, 0.05, RIGHT_HZ);
        close_capture();
    }
}

/* The device `slow` hears another sink than the one that plays, and takes up to 2 s to
 * begin; it must not be taken for a dead one, before its first sample or after. */
static void silence_is_no_loss(void **state) {
    (void)state;
    play("bench");
    open_capture("slow", FILE_HZ, 0, 0);
    record(SB_CAPTURE_STALL_S + 0.3);
    assert_int_equal(now.lost, 0);
    for (size_t i = 0; i < now.n; i++)
        assert_true(now.sound[i] == 0);
    close_capture();
}

/* A hole lies where it is told to lie, and is as long as it is told to be: the phase of the
 * tone behind it follows from that before it. */
static void a_late_reader_learns_what_was_lost_and_where(void **state) {
    (void)state;
    enum { PART = 2048 };
    play("bench");
    open_capture("pulse", FILE_HZ, 1, 0.25);
    wait_for_tones();
    sb_sleep_s(0.8);
    make_room(2);
    size_t hole_at = 0, hole = 0;
    while (now.n < (size_t)now.rate_hz / 2 || now.n < hole_at + PART) {
        size_t n, lost;
        assert_int_equal(sb_capture_read(now.capture, now.sound + now.n, PART, 0.2, &n, &lost),
                         SB_OK);
        assert_true(lost == 0 || hole == 0);
        if (lost > 0) {
            hole_at = now.n;
            hole = lost;
        }
        now.n += n;
    }
    assert_true((double)hole > 0.3 * now.rate_hz && (double)hole < 0.8 * now.rate_hz);
    assert_true((double)hole_at >= 0.25 * now.rate_hz);
    phasor before = mix_down(now.sound, hole_at - PART, PART, now.rate_hz, LEFT_HZ);
    phasor after = mix_down(now.sound, hole_at, PART, now.rate_hz, LEFT_HZ);
    double turned = fmod(LEFT_HZ * (double)hole / now.rate_hz, 1.0);
    assert_true(fabs(remainder(turns_between(before, after) - turned, 1.0)) < 0.001);
    close_capture();
}

/* ---- faults --------------------------------------------------------------------------- */

/* Reads until the device counts as lost, closes it, and holds the whole to its time. */
static void expect_loss_within(double start_s, double limit_s) {
    float samples[1024];
    size_t n, lost;
    sb_status status = SB_OK;
    while (status == SB_OK && sb_clock_s() < start_s + 2 * limit_s)
        status = sb_capture_read(now.capture, samples, 1024, 0.1, &n, &lost);
    assert_int_equal(status, SB_E_DEVICE_LOST);
    assert_int_equal(sb_capture_read(now.capture, samples, 1024, 1, &n, &lost),
                     SB_E_DEVICE_LOST); /* it stays so, at once */
    close_capture();
    double took_s = sb_clock_s() - start_s;
    if (took_s >= limit_s)
        fail_with("reported and closed after %.2f s", took_s);
}

static void expect_sound(void) {
    assert_true(wait_for_errands());
    open_capture("pulse", FILE_HZ, 0, 0);
    record(0.1);
    close_capture();
}

static void a_suspended_device_is_lost(void **state) {
    (void)state;
    open_capture("pulse", FILE_HZ, 0, 0);
    record(0.1);
    assert_true(suspend(true));
    double start_s = sb_clock_s();
    expect_loss_within(start_s, LOST_S);

    /* It still opens, but gives nothing. */
    assert_true(wait_for_errands());
    start_s = sb_clock_s();
    open_capture("pulse", FILE_HZ, 0, 0);
    expect_loss_within(start_s, SB_CAPTURE_START_S + SB_CAPTURE_CLOSE_S);
    assert_true(suspend(false));
    expect_sound();
}

static void a_stopped_server_is_lost_and_comes_back(void **state) {
    (void)state;
    open_capture("pulse", FILE_HZ, 0, 0);
    record(0.1);
    pulse_signal(&server, SIGSTOP);
    expect_loss_within(sb_clock_s(), LOST_S);

    /* The closing waits for the server, out of sight; nothing else is begun meanwhile. */
    size_t n;
    assert_true(sb_errand_out());
    assert_int_equal(try_open("pulse", FILE_HZ, 0, 0), SB_E_NO_DEVICE);
    assert_int_equal(sb_devices_list(NULL, 0, &n), SB_E_NO_DEVICE);
    pulse_signal(&server, SIGCONT);
    expect_sound();
}

static void a_server_that_does_not_answer_cannot_be_opened(void **state) {
    (void)state;
    pulse_signal(&server, SIGSTOP);
    double start_s = sb_clock_s();
    assert_int_equal(try_open("pulse", FILE_HZ, 0, 0), SB_E_NO_DEVICE);
    assert_true(sb_clock_s() - start_s < LOST_S);
    pulse_signal(&server, SIGCONT);
    expect_sound();
}

static void a_killed_server_is_lost_at_once(void **state) {
    (void)state;
    play("bench");
    open_capture("pulse", FILE_HZ, 0, 0);
    wait_for_tones();
    pulse_kill(&server);
    expect_loss_within(sb_clock_s(), 1.0);
    assert_int_equal(try_open("pulse", FILE_HZ, 0, 0), SB_E_NO_DEVICE);
    assert_true(pulse_restart(&server));
    expect_sound();
}

/* Stopped from the keyboard and continued, the program must not mistake its own absence for
 * the device's; but what came meanwhile may have a hole that the server keeps to itself. */
static void a_stop_of_the_program_itself_is_told_as_a_hole(void **state) {
    (void)state;
    play("bench");
    open_capture("pulse", FILE_HZ, 0, 0);
    wait_for_tones();
    pid_t parent = getpid(), waker = fork();
    if (waker == 0) {
        kill(parent, SIGSTOP);
        sb_sleep_s(SB_CAPTURE_STALL_S + 0.2);
        kill(parent, SIGCONT);
        _exit(0);
    }
    assert_true(waker > 0);
    size_t lost = 0;
    do {
        record(0.02);
        lost += now.lost;
    } while (waitpid(waker, NULL, WNOHANG) == 0);
    record(0.5);
    lost += now.lost;
    assert_true((double)lost > SB_CAPTURE_STALL_S * now.rate_hz);
    record(0.5);
    assert_int_equal(now.lost, 0);
    expect_tone(LEFT_HZ, 0.05, RIGHT_HZ);
    close_capture();
}

#define LIVE(test) cmocka_unit_test_setup_teardown(test, quiet, clean_up)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_independent_ear_hears_a_known_detuning),
        cmocka_unit_test(the_callback_takes_one_channel_and_counts_what_is_lost),
        cmocka_unit_test(what_piles_up_in_a_pause_is_lost),
        cmocka_unit_test(names_are_fit_to_show),
        cmocka_unit_test(a_device_is_found_by_name_part_or_index),
        LIVE(devices_are_listed),
        LIVE(a_device_that_is_not_there_is_refused),
        LIVE(impossible_settings_are_refused),
        LIVE(a_tone_comes_back_exact_and_whole),
        LIVE(channel_and_device_are_those_asked_for),
        LIVE(the_rate_is_the_one_asked_for),
        LIVE(silence_is_no_loss),
        LIVE(a_late_reader_learns_what_was_lost_and_where),
        LIVE(a_suspended_device_is_lost),
        LIVE(a_stopped_server_is_lost_and_comes_back),
        LIVE(a_server_that_does_not_answer_cannot_be_opened),
        LIVE(a_killed_server_is_lost_at_once),
        LIVE(a_stop_of_the_program_itself_is_told_as_a_hole),
    };
#ifndef __linux__
    puts("capture: skipped, PulseAudio's null sinks are for Linux");
    return 0;
#endif
    return cmocka_run_group_tests(tests, start_server, stop_server);
}
