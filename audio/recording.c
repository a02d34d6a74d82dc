#include "audio/recording.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "audio/listener.h" /* the rates that the ear takes */

#define BLOCK_SAMPLES  16384 /* of all channels together, unless there are more channels */
#define LOUDEST_PASS_S 600
#define NAME_ATTEMPTS  100
#define DECODER_BYTES  (1024 * 1024) /* more than any of them takes at first */

struct sb_recording {
    SNDFILE *file;
    int fd; /* ours, so that it is closed exactly once whatever libsndfile does */
    size_t channels;
    size_t channel; /* 0-based */
    float *block;   /* interleaved; NULL for one channel */
    size_t block_frames;
    sb_status pending; /* what the next read says */
    char *path;        /* of a created recording, else NULL */
    char *temporary;
    bool replace, failed; /* failed: a write did */
};

static void release(sb_recording *r) {
    if (!r)
        return;
    if (r->file)
        (void)sf_close(r->file);
    if (r->fd >= 0)
        (void)close(r->fd);
    free(r->block);
    free(r->path);
    free(r->temporary);
    free(r);
}

static sb_recording *blank(void) {
    sb_recording *r = calloc(1, sizeof *r);
    if (r)
        r->fd = -1;
    return r;
}

/* --- reading ------------------------------------------------------------------------- */

static sb_status open_regular(const char *path, int *fd) {
    /* Without O_NONBLOCK a FIFO would wait for a writer for ever. */
    int opened = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (opened < 0)
        return errno == EIO || errno == EMFILE || errno == ENFILE ? SB_E_IO
               : errno == ENOMEM                                  ? SB_E_MEMORY
                                                                  : SB_E_NO_FILE;
    struct stat about;
    if (fstat(opened, &about) != 0 || !S_ISREG(about.st_mode)) {
        (void)close(opened);
        return SB_E_FORMAT;
    }
    *fd = opened;
    return SB_OK;
}

/* One block of whole frames; fewer at the end. */
static size_t read_block(sb_recording *r, float *block, size_t frames) {
    sf_count_t got = sf_readf_float(r->file, block, (sf_count_t)frames);
    return got > 0 ? (size_t)got : 0;
}

static sb_status prepare_block(sb_recording *r) {
    r->block_frames = BLOCK_SAMPLES / r->channels;
    if (r->block_frames == 0)
        r->block_frames = 1;
    if (r->channels == 1)
        return SB_OK;
    r->block = malloc(r->block_frames * r->channels * sizeof *r->block);
    return r->block ? SB_OK : SB_E_MEMORY;
}

typedef struct {
    double sum, sum_of_squares;
} moments;

static void accumulate(const float *block, size_t frames, size_t channels, moments m[]) {
    for (size_t i = 0; i < frames * channels; i++) {
        double x = (double)block[i];
        if (!isfinite(x))
            continue;
        m[i % channels].sum += x;
        m[i % channels].sum_of_squares += x * x;
    }
}

static size_t largest_variance(const moments m[], size_t channels, double frames) {
    size_t best = 0;
    double most = -1;
    for (size_t c = 0; c < channels; c++) {
        double power = m[c].sum_of_squares - m[c].sum * m[c].sum / frames;
        if (power > most) {
            most = power;
            best = c;
        }
    }
    return best;
}

static sb_status find_loudest(sb_recording *r, const SF_INFO *info) {
    r->channel = 0;
    if (r->channels == 1 || !info->seekable)
        return SB_OK;
    moments *m = calloc(r->channels, sizeof *m);
    if (!m)
        return SB_E_MEMORY;
    size_t limit = (size_t)info->samplerate * LOUDEST_PASS_S, done = 0, got;
    while (done < limit && (got = read_block(r, r->block, r->block_frames)) > 0) {
        accumulate(r->block, got, r->channels, m);
        done += got;
    }
    if (done > 0)
        r->channel = largest_variance(m, r->channels, (double)done);
    free(m);
    return sf_seek(r->file, 0, SEEK_SET) == 0 ? SB_OK : SB_E_IO;
}

/* libsndfile and its decoders call a failed allocation many names, or none; errno does not. */
static sb_status failure(int error, sb_status otherwise) {
    return errno == ENOMEM ? SB_E_MEMORY : error == SF_ERR_SYSTEM ? SB_E_IO : otherwise;
}

/* A decoder that gets no memory may crash: what it needs is asked for beforehand. */
static bool has_room(void) {
    errno = 0;
    void *volatile block = malloc(DECODER_BYTES); /* volatile: or it is optimized away */
    bool there = block != NULL;
    free(block);
    return there;
}

static SNDFILE *open_sound(int fd, SF_INFO *info, sb_status *status) {
    SNDFILE *file = has_room() ? sf_open_fd(fd, SFM_READ, info, SF_FALSE) : NULL;
    *status = file ? SB_OK : failure(sf_error(NULL), SB_E_FORMAT);
    return file;
}

static sb_status choose(sb_recording *r, const SF_INFO *info, int channel) {
    if (info->channels < 1)
        return SB_E_FORMAT;
    if (info->samplerate < SB_RATE_MIN_HZ || info->samplerate > SB_RATE_MAX_HZ ||
        channel > info->channels)
        return SB_E_RANGE;
    r->channels = (size_t)info->channels;
    sb_status status = prepare_block(r);
    if (status != SB_OK)
        return status;
    if (channel <= 0)
        return find_loudest(r, info);
    r->channel = (size_t)channel - 1;
    return SB_OK;
}

sb_status sb_recording_open(const char *path, int channel, double *rate_hz, sb_recording **out) {
    sb_recording *r = blank();
    if (!r)
        return SB_E_MEMORY;
    SF_INFO info = {0};
    sb_status status = open_regular(path, &r->fd);
    if (status == SB_OK)
        r->file = open_sound(r->fd, &info, &status);
    if (status == SB_OK)
        status = choose(r, &info, channel);
    if (rate_hz && r->file)
        *rate_hz = info.samplerate;
    if (status == SB_OK)
        *out = r;
    else
        release(r);
    return status;
}

static size_t read_chosen(sb_recording *r, float samples[], size_t n) {
    if (r->channels == 1)
        return read_block(r, samples, n);
    size_t done = 0;
    while (done < n) {
        size_t want = n - done < r->block_frames ? n - done : r->block_frames;
        size_t got = read_block(r, r->block, want);
        for (size_t i = 0; i < got; i++)
            samples[done + i] = r->block[i * r->channels + r->channel];
        done += got;
        if (got < want)
            break;
    }
    return done;
}

sb_status sb_recording_read(sb_recording *recording, float samples[], size_t n, size_t *n_read) {
    if (recording->pending != SB_OK)
        return recording->pending;
    errno = 0;
    size_t got = read_chosen(recording, samples, n);
    int error = got < n ? sf_error(recording->file) : SF_ERR_NO_ERROR;
    if (error != SF_ERR_NO_ERROR || (got < n && errno == ENOMEM)) {
        recording->pending = failure(error, SB_E_FORMAT);
        if (got == 0)
            return recording->pending;
    }
    *n_read = got;
    return SB_OK;
}

/* --- writing ------------------------------------------------------------------------- */

static bool ends_in(const char *path, const char *ending) {
    size_t n = strlen(path), m = strlen(ending);
    return n > m && strcasecmp(path + n - m, ending) == 0;
}

/* Opens "FOLDER/.NAME.PID-N.part" for the first N that is free. Unlike mkstemp this leaves
 * the file's mode to the umask, as for any file that a user asks for. */
static sb_status open_temporary(sb_recording *r) {
    const char *slash = strrchr(r->path, '/');
    int folder = slash ? (int)(slash - r->path + 1) : 0;
    size_t size = strlen(r->path) + 48;
    r->temporary = malloc(size);
    if (!r->temporary)
        return SB_E_MEMORY;
    for (int n = 0; n < NAME_ATTEMPTS; n++) {
        (void)snprintf(r->temporary, size, "%.*s.%s.%ld-%d.part", folder, r->path, r->path + folder,
                       (long)getpid(), n);
        r->fd = open(r->temporary, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (r->fd >= 0)
            return SB_OK;
        if (errno != EEXIST)
            break;
    }
    return SB_E_IO;
}

static sb_status open_for_writing(sb_recording *r, double rate_hz) {
    bool flac = ends_in(r->path, ".flac");
    SF_INFO info = {.samplerate = (int)lround(rate_hz),
                    .channels = 1,
                    .format = (flac ? SF_FORMAT_FLAC : SF_FORMAT_RF64) | SF_FORMAT_PCM_24};
    if (!sf_format_check(&info))
        return SB_E_RANGE;
    sb_status status = open_temporary(r);
    if (status != SB_OK)
        return status;
    r->file = has_room() ? sf_open_fd(r->fd, SFM_WRITE, &info, SF_FALSE) : NULL;
    if (!r->file)
        return failure(sf_error(NULL), SB_E_RANGE);
    (void)sf_command(r->file, SFC_SET_CLIPPING, NULL, SF_TRUE);
    /* A WAV header (the extensible form) where the size allows it. */
    (void)sf_command(r->file, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
    return SB_OK;
}

sb_status sb_recording_create(const char *path, double rate_hz, bool replace, sb_recording **out) {
    if (!(rate_hz >= 1 && rate_hz <= SB_RATE_MAX_HZ))
        return SB_E_RANGE;
    sb_recording *r = blank();
    size_t size = strlen(path) + 1;
    char *copy = malloc(size);
    if (!r || !copy) {
        release(r);
        free(copy);
        return SB_E_MEMORY;
    }
    r->path = memcpy(copy, path, size);
    r->replace = replace;
    sb_status status = open_for_writing(r, rate_hz);
    if (status == SB_OK)
        *out = r;
    else
        sb_recording_discard(r);
    return status;
}

sb_status sb_recording_write(sb_recording *recording, const float samples[], size_t n) {
    float clean[1024];
    for (size_t done = 0; done < n;) {
        size_t part = n - done < 1024 ? n - done : 1024;
        for (size_t i = 0; i < part; i++)
            clean[i] = isnan(samples[done + i]) ? 0.0F : samples[done + i];
        if (sf_writef_float(recording->file, clean, (sf_count_t)part) != (sf_count_t)part) {
            recording->failed = true;
            return SB_E_IO;
        }
        done += part;
    }
    return SB_OK;
}

/* link() refuses to replace, with no moment between the question and the deed; file systems
 * without hard links get the question first. */
static bool move_into_place(const sb_recording *r) {
    if (r->replace)
        return rename(r->temporary, r->path) == 0;
    if (link(r->temporary, r->path) == 0) {
        (void)unlink(r->temporary);
        return true;
    }
    if (errno == EEXIST || access(r->path, F_OK) == 0)
        return false;
    return rename(r->temporary, r->path) == 0;
}

/* How much of a file can be read again. */
static size_t readable(const char *path) {
    float block[1024];
    sb_recording *r = NULL;
    size_t n = 0;
    if (sb_recording_open(path, 1, NULL, &r) != SB_OK)
        return 0;
    for (size_t got; sb_recording_read(r, block, 1024, &got) == SB_OK && got > 0;)
        n += got;
    release(r);
    return n;
}

static bool complete(sb_recording *r) {
    bool whole = !r->failed && sf_error(r->file) == SF_ERR_NO_ERROR;
    whole = sf_close(r->file) == 0 && whole;
    r->file = NULL;
    return fsync(r->fd) == 0 && whole;
}

sb_status sb_recording_close(sb_recording *recording, size_t *kept) {
    if (!recording || !recording->path) {
        release(recording);
        return SB_OK;
    }
    bool whole = complete(recording);
    size_t n = whole ? 0 : readable(recording->temporary);
    bool moved = (whole || n > 0) && move_into_place(recording);
    if (!moved)
        (void)unlink(recording->temporary);
    if (kept)
        *kept = moved ? n : 0;
    release(recording);
    return whole && moved ? SB_OK : SB_E_IO;
}

void sb_recording_discard(sb_recording *recording) {
    if (recording && recording->temporary && recording->fd >= 0)
        (void)unlink(recording->temporary);
    release(recording);
}
