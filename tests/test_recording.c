/* Audio files in and out. The WAV files are written here byte by byte (Microsoft & IBM,
 * Multimedia Programming Interface and Data Specifications 1.0, 1991), so that reading is
 * judged by the format and not by the library that also writes. */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "audio/recording.h"

static char folder[256];

static const char *in_folder(const char *name) {
    static char path[2][512];
    static int turn;
    turn = !turn;
    (void)snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static int make_folder(void **state) {
    (void)state;
    const char *base = getenv("TMPDIR");
    (void)snprintf(folder, sizeof folder, "%s/setback-recording.XXXXXX", base ? base : "/tmp");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state) {
    (void)state;
    char command[300];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static void put(FILE *f, uint32_t value, int bytes) {
    for (int i = 0; i < bytes; i++)
        (void)fputc((int)(value >> (8 * i) & 255), f);
}

/* A header for `data_bytes` of data; tag 1 = integers, 3 = floats. */
static FILE *begin_wav(const char *path, uint32_t tag, uint32_t channels, uint32_t rate,
                       uint32_t bits, uint32_t data_bytes) {
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    (void)fputs("RIFF", f);
    put(f, 36 + data_bytes, 4);
    (void)fputs("WAVEfmt ", f);
    put(f, 16, 4);
    put(f, tag, 2);
    put(f, channels, 2);
    put(f, rate, 4);
    put(f, rate * channels * bits / 8, 4);
    put(f, channels * bits / 8, 2);
    put(f, bits, 2);
    (void)fputs("data", f);
    put(f, data_bytes, 4);
    return f;
}

static void write_text(const char *path, const char *text) {
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    (void)fputs(text, f);
    assert_int_equal(fclose(f), 0);
}

/* A ramp that tells every sample from its neighbours. */
static int value_at(size_t i) {
    return (int)(i * 37 % 20011) - 10005;
}

static void write_ramp(const char *path, size_t frames, uint32_t rate) {
    FILE *f = begin_wav(path, 1, 1, rate, 16, (uint32_t)frames * 2);
    for (size_t i = 0; i < frames; i++)
        put(f, (uint32_t)value_at(i), 2);
    assert_int_equal(fclose(f), 0);
}

static sb_status try_open(const char *path, int channel) {
    sb_recording *r = NULL;
    sb_status status = sb_recording_open(path, channel, NULL, &r);
    if (status == SB_OK)
        assert_int_equal(sb_recording_close(r, NULL), SB_OK);
    else
        assert_null(r);
    return status;
}

static size_t count_samples(sb_recording *r, sb_status *end) {
    float block[1000];
    size_t total = 0, got = 1;
    while ((*end = sb_recording_read(r, block, 1000, &got)) == SB_OK && got > 0)
        total += got;
    return total;
}

static void reads_samples_exactly_in_any_portions(void **state) {
    (void)state;
    enum { FRAMES = 40000 };
    write_ramp(in_folder("ramp.wav"), FRAMES, 44100);
    double rate = 0;
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_open(in_folder("ramp.wav"), -1, &rate, &r), SB_OK);
    assert_true(rate == 44100.0);
    float block[1777];
    size_t total = 0, got = 0;
    do {
        size_t want = 1 + total % 1777;
        assert_int_equal(sb_recording_read(r, block, want, &got), SB_OK);
        for (size_t i = 0; i < got; i++)
            assert_true(block[i] == (float)value_at(total + i) / 32768.0F);
        assert_true(got == want || total + got == FRAMES);
        total += got;
    } while (got > 0);
    assert_int_equal(total, FRAMES);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

/* Channel 1 is loud but constant, 2 is quiet sound, 3 loud sound, 4 silent. */
static int channel_value(size_t frame, size_t channel) {
    static const int gain[] = {0, 1, 3, 0}, level[] = {30000, 0, 0, 0};
    return level[channel] + gain[channel] * value_at(frame) / 4;
}

static void write_four_channels(const char *path, size_t frames) {
    FILE *f = begin_wav(path, 1, 4, 48000, 16, (uint32_t)frames * 8);
    for (size_t i = 0; i < frames * 4; i++)
        put(f, (uint32_t)channel_value(i / 4, i % 4), 2);
    assert_int_equal(fclose(f), 0);
}

static void expect_channel(const char *path, int asked, size_t given, size_t frames) {
    static float samples[60000];
    sb_recording *r = NULL;
    size_t got = 0;
    assert_int_equal(sb_recording_open(path, asked, NULL, &r), SB_OK);
    assert_int_equal(sb_recording_read(r, samples, 60000, &got), SB_OK);
    assert_int_equal(got, frames);
    for (size_t i = 0; i < frames; i++)
        assert_true(samples[i] == (float)channel_value(i, given) / 32768.0F);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static void takes_the_loudest_or_the_chosen_channel(void **state) {
    (void)state;
    const char *path = in_folder("four.wav");
    write_four_channels(path, 50000);
    expect_channel(path, -1, 2, 50000);
    expect_channel(path, 0, 2, 50000);
    expect_channel(path, 2, 1, 50000);
    expect_channel(path, 4, 3, 50000);
    double rate = 0;
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_open(path, 5, &rate, &r), SB_E_RANGE);
    assert_true(rate == 48000.0);
}

static void refuses_what_is_not_audio(void **state) {
    (void)state;
    assert_int_equal(try_open(in_folder("absent.wav"), -1), SB_E_NO_FILE);
    assert_int_equal(try_open(in_folder("absent/x.wav"), -1), SB_E_NO_FILE);
    assert_int_equal(try_open(folder, -1), SB_E_FORMAT);
    assert_int_equal(mkfifo(in_folder("pipe.wav"), 0600), 0);
    assert_int_equal(try_open(in_folder("pipe.wav"), -1), SB_E_FORMAT);
    write_text(in_folder("empty.wav"), "");
    assert_int_equal(try_open(in_folder("empty.wav"), -1), SB_E_FORMAT);
    write_text(in_folder("text.wav"), "tune the low string first, then the others\n");
    assert_int_equal(try_open(in_folder("text.wav"), -1), SB_E_FORMAT);
    write_text(in_folder("stump.wav"), "RIFF\x24\x10");
    assert_int_equal(try_open(in_folder("stump.wav"), -1), SB_E_FORMAT);
}

static void refuses_rates_that_no_ear_takes(void **state) {
    (void)state;
    write_ramp(in_folder("rate0.wav"), 100, 0);
    assert_int_not_equal(try_open(in_folder("rate0.wav"), -1), SB_OK);
    const uint32_t outside[] = {7999, 384001, 2000000000, 4294967295U};
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        write_ramp(in_folder("rate.wav"), 100, outside[i]);
        assert_int_not_equal(try_open(in_folder("rate.wav"), -1), SB_OK);
    }
    write_ramp(in_folder("low.wav"), 100, 8000);
    assert_int_equal(try_open(in_folder("low.wav"), -1), SB_OK);
    write_ramp(in_folder("high.wav"), 100, 384000);
    assert_int_equal(try_open(in_folder("high.wav"), -1), SB_OK);
}

static void tells_a_rate_that_it_refuses(void **state) {
    (void)state;
    write_ramp(in_folder("2ghz.wav"), 100, 2000000000);
    double rate = 0;
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_open(in_folder("2ghz.wav"), -1, &rate, &r), SB_E_RANGE);
    assert_true(rate == 2e9);
}

static void reads_a_short_file_as_far_as_it_goes(void **state) {
    (void)state;
    FILE *f = begin_wav(in_folder("cut.wav"), 1, 1, 48000, 16, 96000);
    for (size_t i = 0; i < 700; i++)
        put(f, (uint32_t)value_at(i), 2);
    assert_int_equal(fclose(f), 0);
    sb_recording *r = NULL;
    sb_status end = SB_OK;
    assert_int_equal(sb_recording_open(in_folder("cut.wav"), -1, NULL, &r), SB_OK);
    assert_int_equal(count_samples(r, &end), 700);
    assert_int_equal(end, SB_OK);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
    write_ramp(in_folder("none.wav"), 0, 48000);
    assert_int_equal(sb_recording_open(in_folder("none.wav"), -1, NULL, &r), SB_OK);
    assert_int_equal(count_samples(r, &end), 0);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static void passes_nan_on_and_ignores_it_for_loudness(void **state) {
    (void)state;
    FILE *f = begin_wav(in_folder("nan.wav"), 3, 2, 48000, 32, 2 * 4 * 500);
    for (size_t i = 0; i < 500; i++) {
        float half = i % 2 ? 0.5F : -0.5F;
        uint32_t bits;
        memcpy(&bits, &half, sizeof bits);
        put(f, 0x7fc00000, 4);
        put(f, bits, 4);
    }
    assert_int_equal(fclose(f), 0);
    sb_recording *r = NULL;
    float samples[500];
    size_t got = 0;
    assert_int_equal(sb_recording_open(in_folder("nan.wav"), -1, NULL, &r), SB_OK);
    assert_int_equal(sb_recording_read(r, samples, 500, &got), SB_OK);
    assert_true(samples[0] == -0.5F && samples[499] == 0.5F);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
    assert_int_equal(sb_recording_open(in_folder("nan.wav"), 1, NULL, &r), SB_OK);
    assert_int_equal(sb_recording_read(r, samples, 500, &got), SB_OK);
    assert_true(isnan(samples[250]));
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static void write_noise(const char *path, double rate, size_t n) {
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_create(path, rate, false, &r), SB_OK);
    for (size_t i = 0; i < n; i++) {
        float x = (float)value_at(i * i) / 16384.0F;
        assert_int_equal(sb_recording_write(r, &x, 1), SB_OK);
    }
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static void says_where_a_file_is_damaged(void **state) {
    (void)state;
    const char *path = in_folder("damaged.flac");
    write_noise(path, 48000, 60000);
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(truncate(path, about.st_size / 2), 0);
    sb_recording *r = NULL;
    sb_status end = SB_OK;
    assert_int_equal(sb_recording_open(path, -1, NULL, &r), SB_OK);
    size_t got = count_samples(r, &end);
    assert_true(got > 10000 && got < 60000);
    assert_int_equal(end, SB_E_FORMAT);
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static void memory_does_not_grow_with_the_file(void **state) {
    (void)state;
    /* An hour of 8-bit silence, most of it a hole in the file. */
    FILE *f = begin_wav(in_folder("hour.wav"), 1, 1, 8000, 8, 8000 * 3600);
    assert_int_equal(fseek(f, 8000 * 3600 - 1, SEEK_CUR), 0);
    put(f, 128, 1);
    assert_int_equal(fclose(f), 0);
    struct rusage before, after;
    sb_recording *r = NULL;
    sb_status end = SB_OK;
    assert_int_equal(sb_recording_open(in_folder("hour.wav"), -1, NULL, &r), SB_OK);
    float block[1000];
    size_t got = 0;
    assert_int_equal(sb_recording_read(r, block, 1000, &got), SB_OK);
    (void)getrusage(RUSAGE_SELF, &before);
    assert_int_equal(count_samples(r, &end), 8000 * 3600 - 1000);
    (void)getrusage(RUSAGE_SELF, &after);
    assert_true(after.ru_maxrss - before.ru_maxrss < 2048); /* KiB */
    assert_int_equal(sb_recording_close(r, NULL), SB_OK);
}

static size_t files_in_folder(void) {
    char command[300];
    size_t n = 0;
    (void)snprintf(command, sizeof command, "ls -A '%s' | wc -l", folder);
    FILE *f = popen(command, "r");
    assert_non_null(f);
    assert_int_equal(fscanf(f, "%zu", &n), 1);
    (void)pclose(f);
    return n;
}

/* Reads back through libsndfile itself. */
static void expect_written(const char *path, int major, int rate) {
    const float want[] = {0, 0.25F, -0.25F, 1.0F, -1.0F, 0};
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.format & SF_FORMAT_TYPEMASK, major);
    assert_int_equal(info.format & SF_FORMAT_SUBMASK, SF_FORMAT_PCM_24);
    assert_int_equal(info.samplerate, rate);
    assert_int_equal(info.channels, 1);
    float got[8] = {0};
    assert_int_equal(sf_readf_float(file, got, 8), 6);
    for (size_t i = 0; i < 6; i++)
        assert_true(fabsf(got[i] - want[i]) <= 1.0F / 8388608.0F);
    (void)sf_close(file);
}

static const float unclean[] = {0, 0.25F, -0.25F, 1.5F, -7.0F, NAN};

static void writes_clipped_24_bit_files(void **state) {
    (void)state;
    const char *names[] = {"out.wav", "out.FLAC"};
    const int major[] = {SF_FORMAT_WAVEX, SF_FORMAT_FLAC};
    for (size_t i = 0; i < 2; i++) {
        const char *path = in_folder(names[i]);
        size_t before = files_in_folder();
        sb_recording *r = NULL;
        assert_int_equal(sb_recording_create(path, 47999.6, false, &r), SB_OK);
        assert_int_equal(sb_recording_write(r, unclean, 6), SB_OK);
        assert_int_not_equal(access(path, F_OK), 0);
        assert_int_equal(sb_recording_close(r, NULL), SB_OK);
        assert_int_equal(files_in_folder(), before + 1);
        expect_written(path, major[i], 48000);
    }
}

static void discarding_leaves_nothing(void **state) {
    (void)state;
    size_t before = files_in_folder();
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_create(in_folder("gone.wav"), 48000, true, &r), SB_OK);
    assert_int_equal(sb_recording_write(r, unclean, 6), SB_OK);
    assert_int_equal(files_in_folder(), before + 1);
    sb_recording_discard(r);
    assert_int_equal(files_in_folder(), before);
    sb_recording_discard(NULL);
    assert_int_equal(sb_recording_close(NULL, NULL), SB_OK);
}

static sb_status write_over(const char *path, bool replace) {
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_create(path, 48000, replace, &r), SB_OK);
    assert_int_equal(sb_recording_write(r, unclean, 6), SB_OK);
    return sb_recording_close(r, NULL);
}

static void replaces_a_file_only_when_told(void **state) {
    (void)state;
    const char *path = in_folder("kept.wav");
    write_text(path, "precious");
    size_t before = files_in_folder();
    assert_int_equal(write_over(path, false), SB_E_IO);
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_size, 8);
    assert_int_equal(write_over(path, true), SB_OK);
    expect_written(path, SF_FORMAT_WAVEX, 48000);
    assert_int_equal(files_in_folder(), before);
}

static void reports_a_place_that_cannot_be_written(void **state) {
    (void)state;
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_create(in_folder("no/such/x.wav"), 48000, true, &r), SB_E_IO);
    assert_int_equal(sb_recording_create(in_folder("x.wav"), 0, true, &r), SB_E_RANGE);
    assert_int_equal(sb_recording_create(in_folder("x.wav"), (double)NAN, true, &r), SB_E_RANGE);
    assert_null(r);
}

/* Noise, which no format makes small. */
static float noise_at(size_t i) {
    return (float)(i * i * 40503 % 65521) / 65536;
}

/* Writes noise through a limit on file size, which stands in for a full disk. */
static sb_status write_through(const char *name, rlim_t limit, size_t *kept) {
    static float noise[50000];
    struct rlimit usual, little;
    for (size_t i = 0; i < 50000; i++)
        noise[i] = noise_at(i);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &usual), 0);
    (void)signal(SIGXFSZ, SIG_IGN);
    little = usual;
    little.rlim_cur = limit;
    sb_recording *r = NULL;
    assert_int_equal(sb_recording_create(in_folder(name), 48000, true, &r), SB_OK);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &little), 0);
    sb_status written = sb_recording_write(r, noise, 50000), closed = sb_recording_close(r, kept);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &usual), 0);
    assert_true(written == SB_OK || written == SB_E_IO);
    return closed;
}

/* A sample takes 3 bytes of a WAV file, and no more of a FLAC file. */
static void a_full_disk_leaves_what_came_before(void **state) {
    (void)state;
    static const char *const names[] = {"full.wav", "full.flac"};
    for (size_t i = 0; i < 2; i++) {
        static float samples[50000];
        size_t kept = 0, n = 0, before = files_in_folder();
        sb_recording *r = NULL;
        assert_int_equal(write_through(names[i], 20000, &kept), SB_E_IO);
        assert_true(kept < 50000 && kept > (20000 - 200) / 3 - 4096);
        assert_int_equal(files_in_folder(), before + 1);
        assert_int_equal(sb_recording_open(in_folder(names[i]), 1, NULL, &r), SB_OK);
        assert_int_equal(sb_recording_read(r, samples, 50000, &n), SB_OK);
        assert_int_equal(n, kept);
        for (size_t k = 0; k < n; k++)
            assert_true(samples[k] == noise_at(k));
        assert_int_equal(sb_recording_close(r, NULL), SB_OK);
        assert_int_equal(unlink(in_folder(names[i])), 0);
    }
}

static void a_disk_that_was_full_before_leaves_nothing(void **state) {
    (void)state;
    size_t kept = 1, before = files_in_folder();
    assert_int_equal(write_through("none.wav", 10, &kept), SB_E_IO);
    assert_int_equal(kept, 0);
    assert_int_equal(files_in_folder(), before);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_samples_exactly_in_any_portions),
        cmocka_unit_test(takes_the_loudest_or_the_chosen_channel),
        cmocka_unit_test(refuses_what_is_not_audio),
        cmocka_unit_test(refuses_rates_that_no_ear_takes),
        cmocka_unit_test(tells_a_rate_that_it_refuses),
        cmocka_unit_test(reads_a_short_file_as_far_as_it_goes),
        cmocka_unit_test(passes_nan_on_and_ignores_it_for_loudness),
        cmocka_unit_test(says_where_a_file_is_damaged),
        cmocka_unit_test(memory_does_not_grow_with_the_file),
        cmocka_unit_test(writes_clipped_24_bit_files),
        cmocka_unit_test(discarding_leaves_nothing),
        cmocka_unit_test(replaces_a_file_only_when_told),
        cmocka_unit_test(reports_a_place_that_cannot_be_written),
        cmocka_unit_test(a_full_disk_leaves_what_came_before),
        cmocka_unit_test(a_disk_that_was_full_before_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
