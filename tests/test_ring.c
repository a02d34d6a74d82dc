/* The ring: order, wrap, and every lost sample accounted for at its place. Samples carry
 * their number in the stream, so that a reader can tell by itself what is missing. */
#include <pthread.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "audio/errand.h"
#include "audio/ring.h"
#include "tests/support/prng.h"

#define NUMBERS (1u << 24) /* floats hold whole numbers exactly below this */
#define MOST    64

static void start_below_wrap(sb_ring *ring, size_t below) {
    atomic_init(&ring->written, SIZE_MAX - below);
    atomic_init(&ring->taken, SIZE_MAX - below);
}

/* Writes n samples numbered from first on. */
static void write_numbers(sb_ring *ring, size_t first, size_t n) {
    float samples[MOST];
    assert_true(n <= MOST);
    for (size_t i = 0; i < n; i++)
        samples[i] = (float)((first + i) % NUMBERS);
    sb_ring_write(ring, samples, n);
}

/* One read of at most max must give n samples numbered from first on, after lost ones. */
static void expect(sb_ring *ring, size_t max, size_t n, size_t first, size_t lost) {
    float samples[MOST];
    size_t was_lost = 999;
    assert_int_equal(sb_ring_read(ring, samples, max, &was_lost), n);
    assert_int_equal(was_lost, lost);
    for (size_t i = 0; i < n; i++)
        assert_true(samples[i] == (float)((first + i) % NUMBERS));
}

static void size_must_be_a_power_of_two(void **state) {
    (void)state;
    static const size_t bad[] = {0, 3, 6, 12, SIZE_MAX}, good[] = {1, 2, 8, 16};
    float slots[16];
    sb_ring ring;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_int_equal(sb_ring_init(&ring, slots, bad[i]), SB_E_RANGE);
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        assert_int_equal(sb_ring_init(&ring, slots, good[i]), SB_OK);
}

static void indices_lie_on_lines_of_their_own(void **state) {
    (void)state;
    assert_true(offsetof(sb_ring, written) - offsetof(sb_ring, size) >= SB_CACHE_LINE);
    assert_true(offsetof(sb_ring, taken) - offsetof(sb_ring, pending) >= SB_CACHE_LINE);
    assert_true(offsetof(sb_ring, hole_set) - offsetof(sb_ring, taken) >= SB_CACHE_LINE);
}

static void an_empty_ring_gives_nothing(void **state) {
    (void)state;
    float slots[8];
    sb_ring ring;
    assert_int_equal(sb_ring_init(&ring, slots, 8), SB_OK);
    expect(&ring, MOST, 0, 0, 0);
    write_numbers(&ring, 0, 0);
    expect(&ring, MOST, 0, 0, 0);
}

static void order_survives_the_wrap(void **state) {
    (void)state;
    float slots[8];
    sb_ring ring;
    assert_int_equal(sb_ring_init(&ring, slots, 8), SB_OK);
    start_below_wrap(&ring, 4);
    write_numbers(&ring, 0, 3);
    expect(&ring, 2, 2, 0, 0);
    write_numbers(&ring, 3, 7); /* full, with the index past its end */
    assert_int_equal(atomic_load(&ring.written), 5);
    expect(&ring, 3, 3, 2, 0);
    expect(&ring, MOST, 5, 5, 0);
    expect(&ring, MOST, 0, 0, 0);
}

static void what_does_not_fit_is_counted_at_its_place(void **state) {
    (void)state;
    for (size_t below = 0; below < 8; below++) {
        float slots[4];
        sb_ring ring;
        assert_int_equal(sb_ring_init(&ring, slots, 4), SB_OK);
        start_below_wrap(&ring, below);
        write_numbers(&ring, 0, 6); /* 4 and 5 lost */
        write_numbers(&ring, 6, 1); /* lost */
        expect(&ring, 3, 3, 0, 0);
        write_numbers(&ring, 7, 2);   /* behind a hole of 3 */
        expect(&ring, MOST, 1, 3, 0); /* stops at it */
        expect(&ring, 0, 0, 0, 0);    /* asking for nothing does not use it up */
        expect(&ring, 1, 1, 7, 3);
        expect(&ring, MOST, 1, 8, 0);
    }
}

static void a_loss_told_by_the_writer_comes_before_the_next_sample(void **state) {
    (void)state;
    float slots[8];
    sb_ring ring;
    assert_int_equal(sb_ring_init(&ring, slots, 8), SB_OK);
    sb_ring_lose(&ring, 5);
    expect(&ring, MOST, 0, 0, 0); /* nothing behind it yet */
    sb_ring_lose(&ring, 0);       /* an unknown number counts as one */
    write_numbers(&ring, 6, 2);
    expect(&ring, MOST, 2, 6, 6);
}

static void a_second_hole_waits_for_the_first(void **state) {
    (void)state;
    float slots[8];
    sb_ring ring;
    assert_int_equal(sb_ring_init(&ring, slots, 8), SB_OK);
    write_numbers(&ring, 0, 1);
    sb_ring_lose(&ring, 1);
    write_numbers(&ring, 2, 2);
    sb_ring_lose(&ring, 1);
    write_numbers(&ring, 5, 2); /* lost: the first hole is still there */
    expect(&ring, MOST, 1, 0, 0);
    expect(&ring, MOST, 2, 2, 1);
    write_numbers(&ring, 7, 1);
    expect(&ring, MOST, 1, 7, 3);
}

/* What a reader knows of the stream. */
typedef struct {
    size_t next;  /* number of the next sample, lost ones included */
    size_t taken; /* samples read */
    size_t holes;
    size_t wrong; /* samples out of order */
} account;

static size_t take(sb_ring *ring, account *book, size_t max) {
    float samples[MOST];
    size_t lost, n = sb_ring_read(ring, samples, max, &lost);
    book->next += lost;
    book->holes += lost > 0;
    for (size_t i = 0; i < n; i++)
        book->wrong += samples[i] != (float)(book->next++ % NUMBERS);
    book->taken += n;
    return n;
}

static void any_interleaving_accounts_for_every_sample(void **state) {
    (void)state;
    prng rng = prng_seeded(20);
    float slots[32];
    sb_ring ring;
    account book = {0};
    size_t sent = 0;
    assert_int_equal(sb_ring_init(&ring, slots, 32), SB_OK);
    start_below_wrap(&ring, 1000);
    for (int step = 0; step < 200000; step++) {
        size_t n = (size_t)(prng_next(&rng) % 24);
        uint64_t act = prng_next(&rng) % 16;
        if (act == 0)
            sb_ring_lose(&ring, n + 1);
        else if (act < 8)
            write_numbers(&ring, sent, n);
        else
            take(&ring, &book, n);
        sent += act == 0 ? n + 1 : act < 8 ? n : 0;
        assert_int_equal(book.wrong, 0);
    }
    while (take(&ring, &book, MOST) > 0)
        continue;
    assert_int_equal(book.next + ring.pending, sent);
    assert_true(book.taken > 100000 && book.holes > 1000);
}

/* ---- two threads ---------------------------------------------------------------------- */

#define STRESS_SAMPLES 6000000u
#define STRESS_LIMIT_S 60.0

typedef struct {
    sb_ring ring;
    atomic_int done, enough; /* enough: the reader has met both sound and holes */
    size_t sent;             /* the writer's, for the reader after done */
} stress;

static void *keep_writing(void *data) {
    stress *it = data;
    prng rng = prng_seeded(21);
    double end_s = sb_clock_s() + STRESS_LIMIT_S;
    float samples[MOST];
    while ((it->sent < STRESS_SAMPLES || !atomic_load(&it->enough)) && sb_clock_s() < end_s) {
        size_t n = 1 + (size_t)(prng_next(&rng) % MOST);
        if (prng_next(&rng) % 256 == 0) {
            sb_ring_lose(&it->ring, n);
        } else {
            for (size_t i = 0; i < n; i++)
                samples[i] = (float)((it->sent + i) % NUMBERS);
            sb_ring_write(&it->ring, samples, n);
        }
        it->sent += n;
        if (prng_next(&rng) % 8 == 0)
            sched_yield();
    }
    atomic_store(&it->done, 1);
    return NULL;
}

static void two_threads_account_for_every_sample(void **state) {
    (void)state;
    static stress it;
    static float slots[256];
    account book = {0};
    pthread_t writer;
    bool done = false;
    double end_s = sb_clock_s() + STRESS_LIMIT_S;
    assert_int_equal(sb_ring_init(&it.ring, slots, 256), SB_OK);
    start_below_wrap(&it.ring, 100000);
    assert_int_equal(pthread_create(&writer, NULL, keep_writing, &it), 0);
    for (size_t n = 1; !(done && n == 0) && sb_clock_s() < end_s;) {
        done = atomic_load(&it.done);
        n = take(&it.ring, &book, MOST);
        if (book.taken > STRESS_SAMPLES / 20 && book.holes > 100)
            atomic_store(&it.enough, 1); /* however little time a busy machine gives us */
        if (n == 0)
            sched_yield();
    }
    pthread_join(writer, NULL);
    assert_true(done); /* else it ran out of time, which is a failure */
    assert_true(it.sent >= STRESS_SAMPLES);
    assert_int_equal(book.wrong, 0);
    assert_int_equal(book.next + it.ring.pending, it.sent);
    assert_true(atomic_load(&it.enough));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(size_must_be_a_power_of_two),
        cmocka_unit_test(indices_lie_on_lines_of_their_own),
        cmocka_unit_test(an_empty_ring_gives_nothing),
        cmocka_unit_test(order_survives_the_wrap),
        cmocka_unit_test(what_does_not_fit_is_counted_at_its_place),
        cmocka_unit_test(a_loss_told_by_the_writer_comes_before_the_next_sample),
        cmocka_unit_test(a_second_hole_waits_for_the_first),
        cmocka_unit_test(any_interleaving_accounts_for_every_sample),
        cmocka_unit_test(two_threads_account_for_every_sample),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
