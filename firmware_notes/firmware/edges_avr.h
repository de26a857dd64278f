/*
 * Clock edges on the microcontroller: pins, timer and interrupt. See edges_avr.c.
 */
#ifndef EDGES_AVR_H
#define EDGES_AVR_H

#include <stdbool.h>
#include <stdint.h>

#if F_CPU != 16000000UL && F_CPU != 8000000UL
#error "Boards of 16 or 8 MHz only: say which with -DF_CPU=16000000UL or -DF_CPU=8000000UL."
#endif
#define TICKS_PER_US (F_CPU / 8000000UL) /* timer 1 at an eighth of the clock of the board */

typedef struct {
    uint32_t at; /* in ticks */
    bool clock;  /* the level that the edge leads to, as the gauge drives it */
    bool data;
} gauge_edge;

/* Starts the timer and the interrupt; returns the level of the clock. */
bool edges_start(void);

/* True: *edge is the next one. False: *until is now, and every edge before it was taken. */
bool edges_take(gauge_edge *edge, uint32_t *until);

/* Forgets the edges that were not taken yet; returns the time from which new ones count. */
uint32_t edges_forget(void);

/* Tells once that there was no room for an edge. */
bool edges_were_lost(void);

uint32_t ticks_now(void);

#endif
