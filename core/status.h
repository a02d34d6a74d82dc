/* status: the one list of things that can go wrong below the command line.
 *
 * Every fallible function of core/ and audio/ returns an sb_status; its results
 * go through trailing out pointers, which stay untouched on failure. Only cli/
 * turns a status into advice and an exit code.
 */
#ifndef SB_STATUS_H
#define SB_STATUS_H

#if defined(__GNUC__)
#define SB_MUST_CHECK __attribute__((warn_unused_result))
#else
#define SB_MUST_CHECK
#endif

typedef enum {
    SB_OK = 0,
    SB_E_SYNTAX,      /* text that does not parse */
    SB_E_RANGE,       /* a number outside the range where the computation holds */
    SB_E_MEMORY,      /* allocation failed */
    SB_E_NO_FILE,     /* the file does not exist or may not be read */
    SB_E_FORMAT,      /* the file is not audio that can be read */
    SB_E_IO,          /* reading or writing failed part way */
    SB_E_NO_DEVICE,   /* no such capture device, or none at all */
    SB_E_DEVICE_LOST, /* the device or its server went away while in use */
    SB_E_NO_PITCH,    /* no single clear pitch in the sound */
    SB_E_TOO_SHORT,   /* not enough data for the computation asked for */
    SB_E_UNDETERMINED /* the data do not determine the answer (singular fit) */
} sb_status;

/* A short noun phrase for a status ("no such file"), never NULL; static storage. */
const char *sb_status_text(sb_status status);

#endif
