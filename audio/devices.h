/* devices: the list of capture devices as PortAudio gives it. For capture.c only; the public
 * part is in capture.h. */
#ifndef SB_DEVICES_H
#define SB_DEVICES_H

#include "audio/capture.h"

/* Makes the list of capture devices; PortAudio must be initialised. The caller frees
 * *devices, which is never NULL on SB_OK. Errors: SB_E_NO_DEVICE, SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_devices_read(sb_device **devices, size_t *n);

/* Copies a device's name so that it can be shown: cut between UTF-8 characters, control
 * characters replaced, for it is the device's own word and may hold terminal commands. */
void sb_devices_name(char to[SB_DEVICE_NAME_MAX], const char *from);

#endif
