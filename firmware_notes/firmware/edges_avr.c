#include "edges_avr.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "gauge_kind.h"

enum { CK = 1 << PD2, DATA = 1 << PD3 };
enum {
    INVERTED = LINES_INVERTED ? CK | DATA : 0,
    SAMPLE_RISES = SAMPLE_RISING != LINES_INVERTED, /* on the pin */
    SAMPLE_PIN = SAMPLE_RISES ? CK : 0
};

/* 128 edges are 12 ms of a fast 52-bit gauge: longer than it takes to send two lines. */
enum { EDGES = 128 };

static volatile struct {
    uint32_t at;
    uint8_t pins;
} edges[EDGES];
static volatile uint8_t edges_in, edges_out;
static volatile bool edges_lost;
static volatile uint16_t timer_high;

ISR(TIMER1_OVF_vect)
{
    timer_high++;
}

/* Interrupts must be off: the timer may wrap between the reading of its two halves. */
static inline __attribute__((always_inline)) uint32_t ticks(void)
{
    uint16_t low = TCNT1, high = timer_high;

    if ((TIFR1 & 1 << TOV1) && low < 0x8000)
        high++;
    return (uint32_t)high << 16 | low;
}

/* One edge takes 11 us; the time is taken 4 us after it, and the lines are looked at 1 us later:
   DATA may change with the clock, and a clock that is back by then had no edge worth the name.
   The second edge of a pulse shorter than 11 us is stamped late, which gauge_kind.h allows for.
   A fast gauge keeps DATA for 7 us only and is read at once. */
ISR(INT0_vect)
{
    uint8_t pins = PIND;
    uint8_t in = edges_in, next = (uint8_t)(in + 1) % EDGES;
    uint32_t at = ticks();

    if (MIN_PULSE_US)
        pins = PIND;
    else /* only the edges that DATA is taken at come here, and each one counts */
        pins = (pins & DATA) | SAMPLE_PIN;
    if (next == edges_out) {
        edges_lost = true;
        return;
    }
    edges[in].at = at;
    edges[in].pins = pins ^ INVERTED;
    edges_in = next;
}

bool edges_start(void)
{
    TCCR1B = 1 << CS11;
    TIMSK1 = 1 << TOIE1;
    if (MIN_PULSE_US) /* both edges, to see how long a pulse is */
        EICRA = 1 << ISC00;
    else
        EICRA = 1 << ISC01 | SAMPLE_RISES << ISC00;
    EIMSK = 1 << INT0;
    sei();
    return (PIND ^ INVERTED) & CK;
}

bool edges_take(gauge_edge *edge, uint32_t *until)
{
    uint8_t out = edges_out;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        *until = ticks();
        if (out == edges_in)
            return false;
    }
    edge->at = edges[out].at;
    edge->clock = edges[out].pins & CK;
    edge->data = edges[out].pins & DATA;
    edges_out = (uint8_t)(out + 1) % EDGES;
    return true;
}

uint32_t edges_forget(void)
{
    uint32_t at;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        at = ticks();
        edges_out = edges_in;
    }
    return at;
}

bool edges_were_lost(void)
{
    bool lost;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        lost = edges_lost;
        edges_lost = false;
    }
    return lost;
}

uint32_t ticks_now(void)
{
    uint32_t at;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        at = ticks();
    }
    return at;
}
