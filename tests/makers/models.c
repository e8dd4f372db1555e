/* Models for the tests, one library each by -DMODEL=...: their answers stand in closed form. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include <signal.h>

#define TAPS 1
#define POLE 2
#define CLOCK 3
#define CRASH 4
#define HANG 5
#define EATER 6
#define REFUSE 7
#define NAN_ 8
#define OVERRUN 9
#define UNDERRUN 10
#define CLOCKS_DOWN 11
#define CLOCKS_OPEN 12
#define CRASH_LATE 13
#define PRINTS 14
#define LONG_TEXT 15
#define NO_WAVE 16
#define ADAPTS 17
#define ECHO 18
#define HANG_CLOSE 19
#define EXITS 20
#define GAIN 21
#define SLOW 22

#if defined(_WIN32)
#define OFFER __declspec(dllexport)
#else
#define OFFER __attribute__((visibility("default")))
#endif

typedef struct {
    double dt, bit, state, last[4096];
    long per_bit, at;
    double time, before, next_clock, tap, gain;
    unsigned random;
    char *told;
} Memory;

/* A number of the parameter string: what follows "(name ". */
static double number(const char *text, const char *name, double otherwise) {
    char key[64];
    snprintf(key, sizeof key, "(%s ", name);
    const char *found = strstr(text, key);
    return found ? atof(found + strlen(key)) : otherwise;
}

OFFER long AMI_Init(double *h, long rows, long aggressors, double dt, double bit, char *in, char **out, void **memory,
                    char **msg) {
    Memory *m = calloc(1, sizeof *m);
    m->dt = dt; m->bit = bit; m->per_bit = lround(bit / dt); m->random = 12345u;
    m->tap = number(in, "1", 0.0); m->gain = number(in, "gain", 1.0);
    *memory = m;
    *msg = 0; *out = 0;
#if MODEL == TAPS
    /* y[n] = before x[n] + middle x[n - one bit] + after x[n - two bits]. */
    double before = number(in, "-1", 0.0), after = m->tap, middle = number(in, "0", 1.0);
    m->gain = before; m->state = middle;
    for (long c = 0; c <= aggressors; c++) {
        double *one = h + c * rows, *copy = malloc(rows * sizeof *copy);
        memcpy(copy, one, rows * sizeof *copy);
        for (long n = 0; n < rows; n++)
            one[n] = before * copy[n] + (n >= m->per_bit ? middle * copy[n - m->per_bit] : 0.0)
                   + (n >= 2 * m->per_bit ? after * copy[n - 2 * m->per_bit] : 0.0);
        free(copy);
    }
#elif MODEL == POLE
    double k = 1.0 - exp(-dt * 2.0 * M_PI * number(in, "corner", 1e9));
    m->tap = k;
    for (long c = 0; c <= aggressors; c++) {
        double y = 0.0;
        for (long n = 0; n < rows; n++) { y += k * (h[c * rows + n] - y); h[c * rows + n] = y; }
    }
#elif MODEL == GAIN || MODEL == CLOCK
    for (long n = 0; n < rows * (aggressors + 1); n++) h[n] *= m->gain;
#elif MODEL == ADAPTS
    /* Brings the response's area to one volt, whatever it was, and says by how much. */
    double sum = 0.0;
    for (long n = 0; n < rows; n++) sum += h[n] * dt;
    for (long n = 0; n < rows * (aggressors + 1); n++) h[n] /= sum;
    m->told = malloc(256);
    snprintf(m->told, 256, "(adapts (found %.17g) (mode 2))", sum);
    *out = m->told; *msg = "adapted well";
#elif MODEL == ECHO
    m->told = malloc(strlen(in) + 1);
    strcpy(m->told, in);
    *out = m->told;
#elif MODEL == CRASH
    fprintf(stderr, "about to write to nothing\n"); fflush(stderr);
    *(volatile int *)8 = 1;
#elif MODEL == HANG
    for (volatile long n = 0;; n++) ;
#elif MODEL == EATER
    for (;;) { char *more = malloc(1 << 24); if (!more) abort(); memset(more, 1, 1 << 24); }
#elif MODEL == REFUSE
    *msg = "the corner is\nbeyond what I know"; return 0;
#elif MODEL == NAN_
    h[rows / 2] = 0.0 / 0.0;
#elif MODEL == OVERRUN
    h[rows * (aggressors + 1) + 3] = 1.0;
#elif MODEL == UNDERRUN
    h[-2] = 1.0;
#elif MODEL == PRINTS
    for (int n = 0; n < 100000; n++) { puts("(not an answer)"); fputs("warned\n", stderr); }
    fflush(stdout); fflush(stderr);
#elif MODEL == LONG_TEXT
    m->told = malloc(3 << 20); memset(m->told, 'x', (3 << 20) - 1); m->told[(3 << 20) - 1] = 0;
    *out = m->told;
#elif MODEL == EXITS
    exit(3);
#endif
    return 1;
}

#if MODEL != NO_WAVE
OFFER long AMI_GetWave(double *wave, long size, double *clocks, char **out, void *memory) {
    Memory *m = memory;
    (void)out;
#if MODEL == TAPS
    (void)clocks;
    for (long n = 0; n < size; n++) {
        long ring = 2 * m->per_bit + 1;
        m->last[m->at % ring] = wave[n];
        double one = m->at >= m->per_bit ? m->last[(m->at - m->per_bit) % ring] : 0.0;
        double two = m->at >= 2 * m->per_bit ? m->last[(m->at - 2 * m->per_bit) % ring] : 0.0;
        wave[n] = m->gain * wave[n] + m->state * one + m->tap * two;
        m->at++;
    }
#elif MODEL == POLE
    (void)clocks;
    for (long n = 0; n < size; n++) { m->state += m->tap * (wave[n] - m->state); wave[n] = m->state; }
#elif MODEL == GAIN
    (void)clocks;
    for (long n = 0; n < size; n++) wave[n] *= m->gain;
#elif MODEL == CLOCK
    /* A clock at every bit's start, moved to and fro by 1/20 of a bit. */
    long found = 0;
    double end = m->time + size * m->dt;
    while (m->next_clock * m->bit < end) {
        clocks[found++] = (m->next_clock + ((long)m->next_clock % 2 ? 0.05 : 0.0)) * m->bit;
        m->next_clock += 1.0;
    }
    clocks[found] = -1.0;
    m->time = end;
#elif MODEL == CRASH_LATE
    (void)clocks; (void)size;
    if (m->at++ == 2) *(volatile int *)8 = 1;
#elif MODEL == CLOCKS_DOWN
    (void)size; clocks[0] = 2.0 * m->bit; clocks[1] = m->bit; clocks[2] = -1.0;
#elif MODEL == CLOCKS_OPEN
    for (long n = 0; n < 2 * (size / m->per_bit) + 16; n++) clocks[n] = (n + 1) * m->dt;
#elif MODEL == SLOW
    (void)clocks;
    for (int turn = 0; turn < 40; turn++) for (long n = 0; n < size; n++) wave[n] = wave[n] * 0.999 + 1e-12;
#else
    (void)wave; (void)size; (void)clocks; (void)m;
#endif
    return 1;
}
#endif

OFFER long AMI_Close(void *memory) {
    Memory *m = memory;
#if MODEL == HANG_CLOSE
    for (;;) sleep(1);
#endif
    free(m->told);
    free(m);
    return 1;
}
