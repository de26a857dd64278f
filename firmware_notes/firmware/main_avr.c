/*
 * The bridge on an example chip, an ATmega328P, at 16 MHz; at 8 MHz its UART has 38400 baud.
 *
 *     PD2 (INT0)  CK      input without pull-up
 *     PD3         DATA    input without pull-up
 *     PD4         REQ     open drain: pulled low or left alone, never driven high
 *     PB0         button or foot pedal to ground
 *     PD0, PD1    UART, 115200 8N1
 *
 * Build, from this folder (bridge-line.md lists the other gauges and options):
 *
 *     avr-gcc -mmcu=atmega328p -DF_CPU=16000000UL -std=c99 -Os -Wall -Wextra -Werror \
 *         -DGAUGE_N52 main_avr.c edges_avr.c bit_collector.c bridge_line.c -o bridge.elf
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#if F_CPU == 16000000UL
#define BAUD 115200
#else
#define BAUD 38400 /* 115200 would be off by 3.5 % at 8 MHz; this is off by 0.2 % */
#endif
#define BAUD_TOL 3
#include <util/setbaud.h>

#include "bit_collector.h"
#include "bridge_line.h"
#include "edges_avr.h"
#include "gauge_kind.h"

#define HEARTBEAT_TICKS (1000000UL * TICKS_PER_US)
#define BOUNCE_TICKS (50000UL * TICKS_PER_US) /* contacts are at rest sooner (common practice) */

enum { REQ = 1 << PD4, BUTTON = 1 << PB0 };
enum { RELEASE_REQ_AFTER = 4, BURSTS_PER_REQUEST = 2 };

static const collector_rules RULES = {
    .n_bits = N_BITS,
    .sample_level = SAMPLE_RISING,
    .min_pulse = MIN_PULSE_US * TICKS_PER_US,
    .quiet = QUIET_US * TICKS_PER_US,
    .patience = PATIENCE_US * TICKS_PER_US,
};

static bit_collector collector;
static volatile uint8_t command; /* of enum bridge_command; the last one heard counts */
static uint16_t line_number;
static uint8_t bursts_asked, asked_by; /* asked_by: of enum burst_flag */
static bool loud = true;

/* The output latch of REQ stays 0; only the direction of the pin changes. */
static void pull_request(void)
{
    DDRD |= REQ;
}

static void release_request(void)
{
    DDRD &= (uint8_t)~REQ;
}

ISR(USART_RX_vect)
{
    static command_reader reader;
    enum bridge_command heard = command_take(&reader, (char)UDR0, PORT);

    if (heard != COMMAND_NONE)
        command = heard;
}

/* Wakes the main loop once a millisecond. */
EMPTY_INTERRUPT(TIMER0_OVF_vect)

static void send(const char *kind, uint8_t n_bits, const uint8_t *packed, uint8_t flags)
{
    char text[BRIDGE_LINE_BYTES];
    const bridge_line line = {line_number, PORT, kind, n_bits, packed, flags};
    size_t length = bridge_line_write(text, &line);

    for (size_t i = 0; i < length; i++) {
        while (!(UCSR0A & 1 << UDRE0))
            ;
        UDR0 = (uint8_t)text[i];
    }
    line_number = bridge_number_after(line_number);
}

static void send_ident(void)
{
    static const char who[] = "gaugelink-bridge 1 " KIND;

    send("ID", 8 * (sizeof who - 1), (const uint8_t *)who, 0);
}

static void ask_gauge(uint8_t by)
{
    bool busy = collector.state == COLLECTOR_EXPECTING || collector.state == COLLECTOR_COUNTING;

    if (busy) {
        collector_mark(&collector, by);
        return;
    }
    collector_expect(&collector, edges_forget(), by);
    pull_request();
}

/* A free-running gauge is not asked: its next bursts are marked, and let through when the
   bridge is not loud. Two, because the computer trusts none that is not repeated. */
static void mark_bursts(uint8_t by)
{
    collector_mark(&collector, by);
    bursts_asked = BURSTS_PER_REQUEST;
    asked_by = by;
}

static void ask(uint8_t by)
{
    if (ON_REQUEST)
        ask_gauge(by);
    else
        mark_bursts(by);
}

static void pass_on(const bit_burst *burst)
{
    release_request();
    if (loud || ON_REQUEST || bursts_asked)
        send(KIND, burst->n_bits, burst->packed, burst->flags);
    if (bursts_asked && --bursts_asked)
        collector_mark(&collector, asked_by);
}

static void watch_gauge(void)
{
    uint32_t until;
    gauge_edge edge;
    bit_burst burst;

    if (edges_were_lost())
        collector_mark(&collector, BURST_OVERRUN);
    while (edges_take(&edge, &until))
        if (collector_edge(&collector, edge.at, edge.clock, edge.data, &burst))
            pass_on(&burst);
    if (collector_quiet(&collector, until, &burst))
        pass_on(&burst);
    /* Well before the last bit, or the gauge may send a second burst. */
    if (collector.state == COLLECTOR_COUNTING && collector.burst.n_bits >= RELEASE_REQ_AFTER)
        release_request();
}

static void obey(void)
{
    uint8_t heard = command;

    if (heard == COMMAND_NONE)
        return;
    command = COMMAND_NONE;
    if (heard == COMMAND_READ)
        ask(BURST_REQUESTED);
    if (heard == COMMAND_IDENT)
        send_ident();
    if (heard == COMMAND_QUIET || heard == COMMAND_LOUD)
        loud = heard == COMMAND_LOUD;
}

static void watch_button(void)
{
    static bool pressed;
    static uint32_t changed_at;
    bool closed = !(PINB & BUTTON);

    if (closed == pressed || ticks_now() - changed_at < BOUNCE_TICKS)
        return;
    pressed = closed;
    changed_at = ticks_now();
    if (pressed) {
        ask(BURST_BUTTON);
        send("KEY", 0, NULL, BURST_BUTTON);
    }
}

static void beat(void)
{
    static uint32_t last;

    if (ticks_now() - last < HEARTBEAT_TICKS)
        return;
    last += HEARTBEAT_TICKS;
    send("HB", 0, NULL, 0);
}

static void set_up(void)
{
    PORTB |= BUTTON; /* pull-up; DDRB, DDRD and PORTD are zero after a reset */
    UBRR0 = UBRR_VALUE;
    UCSR0A = USE_2X ? 1 << U2X0 : 0;
    UCSR0B = 1 << RXCIE0 | 1 << RXEN0 | 1 << TXEN0;
    TCCR0B = 1 << CS01 | 1 << CS00;
    TIMSK0 = 1 << TOIE0;
}

int main(void)
{
    bool clock;

    set_up();
    clock = edges_start();
    collector_start(&collector, &RULES, clock, edges_forget());
    send_ident();
    for (;;) {
        watch_gauge();
        obey();
        watch_button();
        beat();
        sleep_mode(); /* until an edge, a character or the next millisecond */
    }
}
