/* compromise: one saddle under several strings, without sound. */
#include <stddef.h>

#include "cli/command.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json.h"
#include "cli/print.h"
#include "cli/term.h"
#include "core/compromise.h"
#include "core/pitch.h"

typedef struct {
    sb_numbers scale_mm, needed_mm, weights, travel_mm;
    double spacing_mm;
    int shape, fit; /* an sb_saddle_shape and an sb_compromise_fit */
    bool json;
} compromise_args;

static const sb_option string_options[] = {
    {"needed", SB_OPT_LENGTHS, offsetof(compromise_args, needed_mm), "LEN,LEN,...",
     "the move that each string needs, back positive, string 1 first; mm where no unit is "
     "written",
     -50, 50, true},
    {"scale", SB_OPT_LENGTHS, offsetof(compromise_args, scale_mm), "LEN[,LEN...]",
     "the nominal scale length with its unit, or one a string", 100, 2000, true},
    {"weights", SB_OPT_NUMBERS, offsetof(compromise_args, weights), "W,W,...",
     "how much each string counts (default 1 each)", 1e-6, 1e6, false},
};

static const sb_option saddle_options[] = {
    {"shape", SB_OPT_CHOICE, offsetof(compromise_args, shape), "flat|slant",
     "whether the saddle moves as a whole (flat, default) or at each end (slant)", 0, 0, false},
    {"spacing", SB_OPT_LENGTH, offsetof(compromise_args, spacing_mm), "LEN",
     "from string to string across the bridge (default 10.5mm)", 0.1, 100, false},
    {"travel", SB_OPT_LENGTHS, offsetof(compromise_args, travel_mm), "LEN,LEN",
     "how far it can still go forward and back at either end (default: as far as needed)", 0, 1000,
     false},
    {"fit", SB_OPT_CHOICE, offsetof(compromise_args, fit), "largest|squares",
     "what is made least: the largest error that remains (default) or the sum of squares", 0, 0,
     false},
};

static const sb_option answer_options[] = {
    {"json", SB_OPT_FLAG, offsetof(compromise_args, json), NULL, "print one JSON object", 0, 0,
     false},
};

static const sb_option_group groups[] = {
    {"the strings", string_options, 3, 0},
    {"the saddle", saddle_options, 4, 0},
    {"the answer", answer_options, 1, 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {"--scale LEN --needed LEN,LEN,... [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback compromise --scale 25.5in --needed 1.2,3.2",
    "setback compromise --scale 25.5in --needed 1.5,2.9,2.1 --shape slant --spacing 10.5mm",
    NULL,
};

static int check(const compromise_args *args) {
    size_t n = args->needed_mm.n;
    if (n > SB_MAX_SHARED)
        return sb_fail(EX_USAGE, "give each saddle its own strings", NULL,
                       "at most %d strings on one saddle", SB_MAX_SHARED);
    if (args->scale_mm.n != 1 && args->scale_mm.n != n)
        return sb_fail(EX_USAGE, "one for all, or as many as --needed has", NULL,
                       "%zu scale lengths for %zu strings", args->scale_mm.n, n);
    if (args->weights.n != 0 && args->weights.n != n)
        return sb_fail(EX_USAGE, "as many as --needed has", NULL, "%zu weights for %zu strings",
                       args->weights.n, n);
    if (args->travel_mm.n != 0 && args->travel_mm.n != 2)
        return sb_fail(EX_USAGE, "forward and back, such as --travel 2mm,5mm", NULL,
                       "--travel takes two lengths");
    return EX_OK;
}

static void describe_strings(const compromise_args *args, sb_shared_string strings[]) {
    for (size_t i = 0; i < args->needed_mm.n; i++) {
        double scale_mm = args->scale_mm.item[args->scale_mm.n == 1 ? 0 : i];
        strings[i] = (sb_shared_string){.needed_mm = args->needed_mm.item[i],
                                        .across_mm = args->spacing_mm * (double)i,
                                        .cents_per_mm = SB_CENTS_PER_LN / scale_mm,
                                        .weight = args->weights.n ? args->weights.item[i] : 1};
    }
}

static sb_compromise_options describe_saddle(const compromise_args *args) {
    sb_compromise_options o = {.shape = (sb_saddle_shape)args->shape,
                               .fit = (sb_compromise_fit)args->fit,
                               .limited = args->travel_mm.n == 2};
    for (size_t end = 0; o.limited && end < 2; end++)
        o.ends[end] =
            (sb_travel){.across_mm = end ? args->spacing_mm * (double)(args->needed_mm.n - 1) : 0,
                        .least_mm = -args->travel_mm.item[0],
                        .most_mm = args->travel_mm.item[1]};
    return o;
}

static int place(const compromise_args *args) {
    sb_shared_string strings[SB_MAX_SHARED];
    double place_mm[SB_MAX_SHARED];
    sb_compromise c;
    size_t n = args->needed_mm.n;
    describe_strings(args, strings);
    sb_compromise_options options = describe_saddle(args);
    if (sb_compromise_place(strings, n, &options, &c) != SB_OK)
        return sb_fail(EX_USAGE, "see whether the figures and their units are right", NULL,
                       "no saddle can be placed so");
    for (size_t i = 0; i < n; i++)
        place_mm[i] = c.position_mm + c.slope * strings[i].across_mm;
    if (args->json)
        return sb_json_compromise(stdout, &c, place_mm, n) ? EX_OK : sb_complain_memory();
    sb_page page = {stdout, sb_term_styled(stdout)};
    sb_print_compromise(&page, &c, args->shape == SB_SHAPE_SLANT, args->needed_mm.item, place_mm,
                        n);
    return EX_OK;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    compromise_args args = {.spacing_mm = 10.5};
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code == EX_OK)
        code = check(&args);
    return code == EX_OK ? place(&args) : code;
}

const sb_command sb_cmd_compromise = {
    "compromise",
    "place one saddle under several strings",
    "Where several strings share a saddle no place is right for all. Given the move that each "
    "string needs, finds the place, and the slant of a saddle that moves at each end, where the "
    "errors that remain at the 12th fret are least.",
    usage,
    examples,
    groups,
    run,
};
