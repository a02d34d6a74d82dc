#include "tests/support/patch.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Sizes of the format's headers, and where in them the wanted fields lie. */
enum {
    PATCH_HEADER = 129,
    INSTRUMENTS_AT = 82,
    INSTRUMENT_HEADER = 63,
    LAYERS_AT = 22,
    LAYER_HEADER = 47,
    SAMPLES_AT = 6,
    SAMPLE_HEADER = 96,
    NAME_LENGTH = 7,
    DATA_SIZE_AT = 8,
    LOOP_START_AT = 12,
    RATE_AT = 20,
    ROOT_AT = 30,
    MODES_AT = 55,
    MODE_16_BIT = 1,
    MODE_UNSIGNED = 2,
    MODE_LOOPED = 4
};

static unsigned u16(const unsigned char *p) {
    return (unsigned)p[0] | (unsigned)p[1] << 8;
}

static uint32_t u32(const unsigned char *p) {
    return (uint32_t)u16(p) | (uint32_t)u16(p + 2) << 16;
}

static float sample_at(const unsigned char *data, size_t k, unsigned modes) {
    if (modes & MODE_16_BIT) {
        int value = (int)u16(data + 2 * k);
        if (modes & MODE_UNSIGNED)
            value -= 32768;
        else if (value >= 32768)
            value -= 65536;
        return (float)value / 32768.0f;
    }
    int value = data[k];
    if (modes & MODE_UNSIGNED)
        value -= 128;
    else if (value >= 128)
        value -= 256;
    return (float)value / 128.0f;
}

static bool read_note(const unsigned char *header, const unsigned char *data, size_t size,
                      patch_note *note) {
    const unsigned modes = header[MODES_AT];
    const size_t end = modes & MODE_LOOPED ? u32(header + LOOP_START_AT) : size;
    if (end > size || u16(header + RATE_AT) == 0)
        return false;
    memcpy(note->name, header, NAME_LENGTH);
    note->name[NAME_LENGTH] = '\0';
    const double header_rate_hz = u16(header + RATE_AT);
    const bool tuned = header_rate_hz > 42000.0 && header_rate_hz < 46000.0;
    note->rate_hz = tuned ? 44100.0 : header_rate_hz;
    note->nominal_hz = u32(header + ROOT_AT) / 1000.0 * note->rate_hz / header_rate_hz;
    note->n = modes & MODE_16_BIT ? end / 2 : end;
    note->samples = calloc(note->n > 0 ? note->n : 1, sizeof *note->samples);
    if (note->samples == NULL)
        return false;
    for (size_t k = 0; k < note->n; k++)
        note->samples[k] = sample_at(data, k, modes);
    return true;
}

/* Reads one layer's samples from *at on, which moves past them. */
static bool read_layer(const unsigned char bytes[], size_t size, size_t *at, patch *out) {
    if (size - *at < LAYER_HEADER)
        return false;
    const size_t count = bytes[*at + SAMPLES_AT];
    *at += LAYER_HEADER;
    for (size_t i = 0; i < count && out->n < PATCH_MAX_NOTES; i++) {
        if (size - *at < SAMPLE_HEADER)
            return false;
        const unsigned char *header = bytes + *at;
        const size_t data_size = u32(header + DATA_SIZE_AT);
        *at += SAMPLE_HEADER;
        if (data_size > size - *at)
            return false;
        if (!read_note(header, bytes + *at, data_size, &out->notes[out->n]))
            return false;
        out->n++;
        *at += data_size;
    }
    return true;
}

/* Instruments beyond the first do not occur in practice and are not read. */
bool patch_parse(const unsigned char bytes[], size_t size, patch *out) {
    memset(out, 0, sizeof *out);
    if (size < PATCH_HEADER + INSTRUMENT_HEADER || memcmp(bytes, "GF1PATCH110", 12) != 0 ||
        bytes[INSTRUMENTS_AT] < 1)
        return false;
    const size_t layers = bytes[PATCH_HEADER + LAYERS_AT];
    size_t at = PATCH_HEADER + INSTRUMENT_HEADER;
    for (size_t i = 0; i < layers; i++)
        if (!read_layer(bytes, size, &at, out)) {
            patch_free(out);
            return false;
        }
    return out->n > 0;
}

static unsigned char *read_all(const char *path, size_t *size) {
    unsigned char *bytes = NULL;
    FILE *f = fopen(path, "rb");
    if (f == NULL)
        return NULL;
    if (fseek(f, 0, SEEK_END) == 0) {
        const long end = ftell(f);
        rewind(f);
        *size = end > 0 ? (size_t)end : 0;
        bytes = malloc(*size + 1);
        if (bytes != NULL && fread(bytes, 1, *size, f) != *size) {
            free(bytes);
            bytes = NULL;
        }
    }
    (void)fclose(f);
    return bytes;
}

bool patch_read(const char *path, patch *out) {
    size_t size = 0;
    memset(out, 0, sizeof *out);
    unsigned char *bytes = read_all(path, &size);
    if (bytes == NULL)
        return false;
    const bool ok = patch_parse(bytes, size, out);
    free(bytes);
    return ok;
}

void patch_free(patch *p) {
    for (size_t i = 0; i < p->n; i++)
        free(p->notes[i].samples);
    memset(p, 0, sizeof *p);
}
