#include "bit_collector.h"

#include <string.h>

static void begin_burst(bit_collector *c, enum collector_state state, uint8_t flags)
{
    memset(&c->burst, 0, sizeof c->burst);
    c->burst.flags = flags;
    c->state = state;
}

void collector_start(bit_collector *c, const collector_rules *rules, bool clock, uint32_t now)
{
    memset(c, 0, sizeof *c);
    c->rules = rules;
    c->level = clock;
    c->last_at = now;
}

void collector_expect(bit_collector *c, uint32_t now, uint8_t flags)
{
    begin_burst(c, COLLECTOR_EXPECTING, flags);
    c->pending = false;
    c->last_at = now;
}

void collector_mark(bit_collector *c, uint8_t flags)
{
    c->burst.flags |= flags;
}

/* There is room: a burst that is full has been ended before the next edge is taken. */
static void count_bit(bit_burst *burst, bool data)
{
    if (data)
        burst->packed[burst->n_bits / 8] |= (uint8_t)(1u << (burst->n_bits % 8));
    burst->n_bits++;
}

static void take_edge(bit_collector *c, uint32_t at, bool clock, bool data)
{
    bool sample = clock == c->rules->sample_level;

    c->level = clock;
    if (sample && (c->state == COLLECTOR_IDLE || c->state == COLLECTOR_EXPECTING))
        c->state = COLLECTOR_COUNTING;
    /* The clock going back to its idle level is not an answer: patience is not renewed. */
    if (c->state != COLLECTOR_EXPECTING)
        c->last_at = at;
    if (sample && c->state == COLLECTOR_COUNTING)
        count_bit(&c->burst, data);
}

/* A level that has lasted long enough was led to by an edge, not by a glitch. */
static void confirm_pending(bit_collector *c, uint32_t now)
{
    if (!c->pending || now - c->pending_at < c->rules->min_pulse)
        return;
    c->pending = false;
    take_edge(c, c->pending_at, !c->level, c->pending_data);
}

static bool has_ended(const bit_collector *c, uint32_t still)
{
    if (c->state == COLLECTOR_EXPECTING)
        return still >= c->rules->patience;
    if (c->state == COLLECTOR_COUNTING)
        return still >= c->rules->quiet || c->burst.n_bits == COLLECTOR_MAX_BITS;
    return false;
}

static bool end_burst(bit_collector *c, uint32_t now, bit_burst *out)
{
    uint32_t still = now - c->last_at;
    bool quiet = still >= c->rules->quiet;

    if (c->pending)
        return false; /* whether it belongs to the burst is not known yet */
    if (c->state == COLLECTOR_UNSYNCED && quiet)
        begin_burst(c, COLLECTOR_IDLE, c->burst.flags & (BURST_BUTTON | BURST_REQUESTED));
    if (!has_ended(c, still))
        return false;
    *out = c->burst;
    if (out->n_bits < c->rules->n_bits)
        out->flags |= BURST_TRUNCATED;
    if (out->n_bits > c->rules->n_bits)
        out->flags |= BURST_EXTRA_EDGES;
    /* After a burst that was cut because it would not end, there must be quiet first. */
    begin_burst(c, quiet || out->n_bits == 0 ? COLLECTOR_IDLE : COLLECTOR_UNSYNCED, 0);
    return true;
}

bool collector_edge(bit_collector *c, uint32_t at, bool clock, bool data, bit_burst *out)
{
    bool ended;

    confirm_pending(c, at);
    ended = end_burst(c, at, out);
    if (c->rules->min_pulse == 0) {
        if (clock == c->rules->sample_level)
            take_edge(c, at, clock, data);
    } else if (c->pending || clock == c->level) {
        /* Too soon after the last edge, or both edges of a pulse were over before the first
           could be looked at. The clock being back where it was, nothing has happened. */
        c->burst.flags |= BURST_GLITCHES;
        c->pending = c->pending && clock != c->level;
    } else {
        c->pending = true;
        c->pending_at = at;
        c->pending_data = data;
    }
    return ended;
}

bool collector_quiet(bit_collector *c, uint32_t now, bit_burst *out)
{
    confirm_pending(c, now);
    return end_burst(c, now, out);
}
