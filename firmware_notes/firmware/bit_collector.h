/*
 * Counts the clock edges of a gauge and gives out whole bursts of bits.
 *
 * No pins, no timer, no interrupt: edges with their times go in, bursts come out, so the
 * same code runs on the microcontroller and in the tests on a computer. It judges nothing.
 * What the bits mean, and whether a burst is good, is decided on the computer.
 *
 * A burst ends when the clock has been quiet long enough, never when enough bits have come:
 * a clock edge counted twice is seen only by waiting for the one too many.
 *
 * Times are ticks of any length that wrap at 32 bits.
 */
#ifndef BIT_COLLECTOR_H
#define BIT_COLLECTOR_H

#include <stdbool.h>
#include <stdint.h>

enum { COLLECTOR_MAX_BITS = 96, COLLECTOR_BYTES = COLLECTOR_MAX_BITS / 8 };

enum burst_flag {
    BURST_TRUNCATED = 1,   /* fewer bits than the rules say */
    BURST_EXTRA_EDGES = 2, /* more */
    BURST_GLITCHES = 4,    /* pulses too short to be a clock were dropped */
    BURST_OVERRUN = 8,     /* edges came faster than they could be taken */
    BURST_BUTTON = 16,     /* sent because a button was pressed */
    BURST_REQUESTED = 32   /* sent because the computer asked */
};

typedef struct {
    uint8_t n_bits;     /* bits in a whole burst */
    bool sample_level;  /* clock level that an edge leads to when DATA is to be taken */
    uint32_t min_pulse; /* a shorter pulse is a glitch; 0: count every edge, look for none */
    uint32_t quiet;     /* no edge for this long ends a burst */
    uint32_t patience;  /* longest wait for the first edge after collector_expect */
} collector_rules;

/* The first bit on the wire is bit 0 of packed[0]; the rest of the last byte is zero. */
typedef struct {
    uint8_t n_bits;
    uint8_t flags;
    uint8_t packed[COLLECTOR_BYTES];
} bit_burst;

enum collector_state {
    COLLECTOR_UNSYNCED, /* perhaps in the middle of a burst: wait for quiet */
    COLLECTOR_IDLE,     /* quiet was seen; the next edge begins a burst */
    COLLECTOR_EXPECTING,
    COLLECTOR_COUNTING
};

typedef struct {
    const collector_rules *rules;
    enum collector_state state;
    bool level; /* of the clock, glitches left out */
    bool pending; /* an edge has come that may still turn out to begin a glitch */
    bool pending_data;
    uint32_t pending_at;
    uint32_t last_at; /* of the last edge that was one, or of collector_expect */
    bit_burst burst;
} bit_collector;

void collector_start(bit_collector *c, const collector_rules *rules, bool clock, uint32_t now);

/* The gauge was asked: a burst must come, and what came before is forgotten. */
void collector_expect(bit_collector *c, uint32_t now, uint8_t flags);

/* Adds flags to the burst that is counted now, or to the next. */
void collector_mark(bit_collector *c, uint8_t flags);

/* Takes a clock edge: the level it leads to, and DATA at that time. True: *out is a burst. */
bool collector_edge(bit_collector *c, uint32_t at, bool clock, bool data, bit_burst *out);

/* Time passes without an edge; to be called often. True: *out is a burst. */
bool collector_quiet(bit_collector *c, uint32_t now, bit_burst *out);

#endif
