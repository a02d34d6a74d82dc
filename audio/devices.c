#include "audio/devices.h"

#include <limits.h>
#include <portaudio.h>
#include <stdlib.h>
#include <string.h>

#include "audio/errand.h"

/* ---- one entry ------------------------------------------------------------------------ */

static bool is_continuation(char c) {
    return ((unsigned char)c & 0xC0u) == 0x80u;
}

/* C0, DEL, and C1 either in UTF-8 (U+0080..U+009F) or as a stray byte. */
static bool is_control(const char *text, size_t at) {
    unsigned char c = (unsigned char)text[at], next = (unsigned char)text[at + (c != 0)];
    unsigned char before = at > 0 ? (unsigned char)text[at - 1] : 0;
    if (c == 0xC2)
        return next >= 0x80 && next <= 0x9F;
    return c < 0x20 || c == 0x7F || (c >= 0x80 && c <= 0x9F && (before < 0x80 || before == 0xC2));
}

void sb_devices_name(char to[SB_DEVICE_NAME_MAX], const char *from) {
    size_t n = 0;
    for (; n < SB_DEVICE_NAME_MAX - 1 && from[n] != '\0'; n++)
        to[n] = is_control(from, n) ? '?' : from[n];
    while (n > 0 && is_continuation(from[n]))
        n--;
    to[n] = '\0';
}

static sb_device entry(int index, const PaDeviceInfo *info) {
    sb_device device = {.index = index,
                        .channels = info->maxInputChannels,
                        .default_rate_hz = info->defaultSampleRate,
                        .is_default = index == Pa_GetDefaultInputDevice()};
    const PaHostApiInfo *host = Pa_GetHostApiInfo(info->hostApi);
    sb_devices_name(device.name, info->name != NULL ? info->name : "");
    sb_devices_name(device.host_api, host != NULL && host->name != NULL ? host->name : "");
    return device;
}

/* ---- the list ------------------------------------------------------------------------- */

sb_status sb_devices_read(sb_device **devices, size_t *n) {
    int count = Pa_GetDeviceCount();
    if (count < 0)
        return SB_E_NO_DEVICE;
    sb_device *list = calloc((size_t)count + 1, sizeof *list);
    if (list == NULL)
        return SB_E_MEMORY;
    *n = 0;
    for (int i = 0; i < count; i++) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
        if (info != NULL && info->maxInputChannels > 0)
            list[(*n)++] = entry(i, info);
    }
    *devices = list;
    return SB_OK;
}

typedef struct {
    sb_status status;
    sb_device *devices;
    size_t n;
} listing;

static void run_listing(void *matter) {
    listing *it = matter;
    if (Pa_Initialize() != paNoError) {
        it->status = SB_E_NO_DEVICE;
        return;
    }
    it->status = sb_devices_read(&it->devices, &it->n);
    Pa_Terminate();
}

static void release_listing(void *matter) {
    listing *it = matter;
    free(it->devices);
    free(it);
}

sb_status sb_devices_list(sb_device devices[], size_t max, size_t *n) {
    if (sb_errand_out())
        return SB_E_NO_DEVICE;
    listing *it = calloc(1, sizeof *it);
    if (it == NULL)
        return SB_E_MEMORY;
    sb_status status = sb_errand_run(run_listing, release_listing, it, SB_CAPTURE_OPEN_S);
    if (status == SB_E_DEVICE_LOST)
        return SB_E_NO_DEVICE;
    if (status == SB_OK)
        status = it->status;
    if (status == SB_OK) {
        memcpy(devices, it->devices, (it->n < max ? it->n : max) * sizeof *devices);
        *n = it->n;
    }
    release_listing(it);
    return status;
}

/* ---- choosing ------------------------------------------------------------------------- */

static char lower(char c) {
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool starts_with(const char *text, const char *start) {
    while (*start != '\0' && lower(*text) == lower(*start)) {
        text++;
        start++;
    }
    return *start == '\0';
}

static bool holds(const char *text, const char *part) {
    for (; *text != '\0'; text++)
        if (starts_with(text, part))
            return true;
    return false;
}

static bool is_number(const char *text) {
    return text[0] != '\0' && text[strspn(text, "0123456789")] == '\0';
}

typedef bool match(const sb_device *device, const char *wanted);

static bool is_the_default(const sb_device *device, const char *wanted) {
    (void)wanted;
    return device->is_default;
}

static bool has_index(const sb_device *device, const char *wanted) {
    return strtol(wanted, NULL, 10) == device->index;
}

static bool has_name(const sb_device *device, const char *wanted) {
    return strcmp(device->name, wanted) == 0;
}

static bool name_holds(const sb_device *device, const char *wanted) {
    return wanted[0] != '\0' && holds(device->name, wanted);
}

static size_t matches(const sb_device devices[], size_t n, match *fits, const char *wanted,
                      size_t *which) {
    size_t found = 0;
    for (size_t i = 0; i < n; i++)
        if (fits(&devices[i], wanted) && found++ == 0)
            *which = i;
    return found;
}

size_t sb_devices_match(const sb_device devices[], size_t n, const char *wanted, size_t *which) {
    if (wanted == NULL)
        return matches(devices, n, is_the_default, wanted, which);
    if (is_number(wanted))
        return matches(devices, n, has_index, wanted, which);
    size_t found = matches(devices, n, has_name, wanted, which);
    return found > 0 ? found : matches(devices, n, name_holds, wanted, which);
}
