/*
 * What the firmware must know of the gauge: chosen when it is built, with -DGAUGE_B24 and
 * the like; N52 when nothing is said. Timing limits are wide on purpose: the pages beside
 * this folder say what was published for each kind.
 */
#ifndef GAUGE_KIND_H
#define GAUGE_KIND_H

/* One edge takes 11 us of a 16 MHz board and 22 us of one with 8 MHz. */
#define SLOWNESS (16000000UL / F_CPU)

#if defined(GAUGE_B24)
#define KIND "B24"
#ifndef N_BITS
#define N_BITS 24 /* -DN_BITS=25 for a gauge that begins with a bit that is always 1 */
#endif
#define ON_REQUEST 0
#define MIN_PULSE_US (20 * SLOWNESS)
#define QUIET_US 20000UL /* groups of bits may be 0.7 ms apart, bursts 100 ms */
#elif defined(GAUGE_B48)
#define KIND "B48"
#define N_BITS 48
#define ON_REQUEST 0
#define MIN_PULSE_US 0 /* half a clock lasts 7 us: there is time for one interrupt a bit */
#define QUIET_US 5000UL
#elif defined(GAUGE_B7N)
#define KIND "B7N"
#define N_BITS 28
#define ON_REQUEST 0
#define MIN_PULSE_US 0
#define QUIET_US 5000UL
#else
#define KIND "N52"
#define N_BITS 52
#define ON_REQUEST 1
#define MIN_PULSE_US (14 * SLOWNESS) /* phases last 100 us; a pulse of 1 us may seem to last 12 */
#define QUIET_US 5000UL
#endif

#if SLOWNESS > 1 && MIN_PULSE_US == 0
#error "This gauge is too fast for a board of 8 MHz: take one of 16 MHz."
#endif

/* Gauge heads may take 2 s from the request to the first bit. */
#define PATIENCE_US 2200000UL

/* 1 where a transistor or a Schmitt inverter turns both lines over. */
#ifndef LINES_INVERTED
#define LINES_INVERTED 0
#endif

/* 1 where DATA is to be taken on the rising edge of the gauge's clock. */
#ifndef SAMPLE_RISING
#define SAMPLE_RISING 0
#endif

/* 0 to 9: which gauge this is, where one computer port serves several boards. */
#ifndef PORT
#define PORT 0
#endif

#endif
