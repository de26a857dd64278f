/*
 * Runs the bridge firmware in a simulated ATmega328P, plays a gauge to its pins and gives
 * its UART a pseudo-terminal, so that the whole way from pins to readings can be tested.
 *
 * A program of its own, used by the tests only and no part of the package: it links simavr,
 * so what is built from it falls under the GNU General Public License, version 3.
 *
 *     simavr_host FIRMWARE.elf SCRIPT SECONDS
 *
 * It prints the name of the pseudo-terminal, waits for a line on standard input, runs the
 * script, and goes on until standard input is closed or SECONDS of real time are over.
 * At the end it prints what it saw of the request line. A line of the script is one of
 *
 *     wait US              simulated microseconds, at least 1
 *     clock 0|1            data 0|1           button 0|1
 *     request              until the firmware holds REQ low
 *     computer N           until N bytes in all have come from the computer
 */
#define _GNU_SOURCE
#include <fcntl.h>
#include <poll.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_time.h>

enum { CK = 2, DATA = 3, REQ = 4, BUTTON = 0, POLL_US = 200, MAX_STEPS = 20000 };

typedef struct {
    enum { WAIT, CLOCK, DATA_LINE, PRESS, COMPUTER, REQUEST, END } what;
    uint32_t value;
} step;

static avr_t *avr;
static step steps[MAX_STEPS + 1];
static const step *next_step = steps;
static int pty;
static bool pulled, waits_for_request;
static unsigned bytes_heard, bytes_waited_for;
static unsigned times_pulled, times_driven_high, clocks_while_pulled;

static void die(const char *what)
{
    perror(what);
    exit(1);
}

static avr_irq_t *pin(char port, int number)
{
    return avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), number);
}

static avr_irq_t *uart(int which)
{
    return avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), which);
}

/* Takes the steps that are due and returns the cycle of the next; 0 when that is not known. */
static avr_cycle_count_t play(avr_t *mcu, avr_cycle_count_t when, void *unused)
{
    (void)unused;
    for (;; next_step++) {
        switch (next_step->what) {
        case WAIT:
            return when + avr_usec_to_cycles(mcu, (next_step++)->value);
        case CLOCK:
            avr_raise_irq(pin('D', CK), next_step->value);
            clocks_while_pulled += pulled && next_step->value == 0;
            break;
        case DATA_LINE:
            avr_raise_irq(pin('D', DATA), next_step->value);
            break;
        case PRESS:
            avr_raise_irq(pin('B', BUTTON), next_step->value);
            break;
        case COMPUTER:
            bytes_waited_for = next_step->value;
            if (bytes_heard >= bytes_waited_for)
                break;
            next_step++;
            return 0;
        case REQUEST:
            if (pulled)
                break;
            waits_for_request = true;
            next_step++;
            return 0;
        case END:
            return 0;
        }
    }
}

/* REQ is watched by its two registers: an input with the latch at 1 has a pull-up, and an
   output with the latch at 1 drives the gauge's line high. Neither may ever be. */
static void watch_request(avr_irq_t *irq, uint32_t value, void *which)
{
    static bool registers[2]; /* direction, latch */
    bool was_pulled = pulled;

    (void)irq;
    registers[*(const int *)which] = value >> REQ & 1;
    times_driven_high += registers[1];
    pulled = registers[0] && !registers[1];
    if (!pulled || was_pulled)
        return;
    times_pulled++;
    if (waits_for_request) {
        waits_for_request = false;
        avr_cycle_timer_register(avr, 1, play, NULL);
    }
}

static void to_computer(avr_irq_t *irq, uint32_t value, void *unused)
{
    uint8_t byte = (uint8_t)value;

    (void)irq, (void)unused;
    if (write(pty, &byte, 1) != 1)
        die("write to the pseudo-terminal");
}

static bool is_readable(int file)
{
    struct pollfd one = {.fd = file, .events = POLLIN};

    return poll(&one, 1, 0) > 0;
}

/* One byte each POLL_US, no faster than the line would bring it. */
static avr_cycle_count_t from_computer(avr_t *mcu, avr_cycle_count_t when, void *unused)
{
    uint8_t byte;

    (void)unused;
    if (is_readable(pty) && read(pty, &byte, 1) == 1) {
        avr_raise_irq(uart(UART_IRQ_INPUT), byte);
        if (++bytes_heard == bytes_waited_for)
            avr_cycle_timer_register(mcu, 1, play, NULL);
    }
    if (is_readable(STDIN_FILENO) && read(STDIN_FILENO, &byte, 1) == 0)
        mcu->state = cpu_Done;
    return when + avr_usec_to_cycles(mcu, POLL_US);
}

/* Our own hold on the far end keeps the pty alive when the reader closes it. */
static void open_pty(void)
{
    struct termios raw;
    int far_end;

    pty = posix_openpt(O_RDWR | O_NOCTTY);
    if (pty < 0 || grantpt(pty) || unlockpt(pty))
        die("pseudo-terminal");
    far_end = open(ptsname(pty), O_RDWR | O_NOCTTY);
    if (far_end < 0 || tcgetattr(far_end, &raw))
        die(ptsname(pty));
    cfmakeraw(&raw);
    tcsetattr(far_end, TCSANOW, &raw);
}

static void read_script(const char *path)
{
    static const char *const WORDS[] = {"wait", "clock", "data", "button", "computer", "request"};
    FILE *file = fopen(path, "r");
    char word[16];
    step *last = steps;

    if (!file)
        die(path);
    while (last < steps + MAX_STEPS && fscanf(file, "%15s", word) == 1) {
        last->what = WAIT;
        while (last->what != END && strcmp(word, WORDS[last->what]))
            last->what++;
        if (last->what == END || (last->what != REQUEST && fscanf(file, "%u", &last->value) != 1)) {
            fprintf(stderr, "%s: step %td is not known: %s\n", path, last - steps, word);
            exit(1);
        }
        last++;
    }
    last->what = END;
    fclose(file);
}

/* Simulated time costs no real time while the processor sleeps. */
static void sleep_at_once(avr_t *mcu, avr_cycle_count_t cycles)
{
    (void)mcu, (void)cycles;
}

static void only_errors(avr_t *mcu, const int level, const char *format, va_list arguments)
{
    (void)mcu;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, arguments);
}

static void make_avr(const char *path, uint32_t hertz)
{
    static const int direction = 0, latch = 1;
    elf_firmware_t firmware = {0};
    uint32_t uart_flags = 0; /* no echo on our output, no sleeping while it polls */

    avr_global_logger_set(only_errors);
    if (elf_read_firmware(path, &firmware) || !(avr = avr_make_mcu_by_name("atmega328p")))
        die(path);
    avr_init(avr);
    avr->sleep = sleep_at_once;
    firmware.frequency = hertz;
    avr_load_firmware(avr, &firmware);
    /* Else a pin that is low while its interrupt is still set to levels, as after a reset, is
       looked at in every cycle. */
    avr_extint_set_strict_lvl_trig(avr, 0, 0);
    avr_extint_set_strict_lvl_trig(avr, 1, 0);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &uart_flags);
    avr_irq_register_notify(uart(UART_IRQ_OUTPUT), to_computer, NULL);
    avr_irq_register_notify(pin('D', IOPORT_IRQ_DIRECTION_ALL), watch_request, (void *)&direction);
    avr_irq_register_notify(pin('D', IOPORT_IRQ_REG_PORT), watch_request, (void *)&latch);
    avr_raise_irq(pin('D', CK), 1);
    avr_raise_irq(pin('D', DATA), 1);
    avr_raise_irq(pin('B', BUTTON), 1);
}

int main(int argc, char **argv)
{
    char go;

    if (argc != 5) {
        fprintf(stderr, "usage: %s FIRMWARE.elf SCRIPT SECONDS HERTZ\n", argv[0]);
        return 2;
    }
    alarm((unsigned)atoi(argv[3]));
    read_script(argv[2]);
    make_avr(argv[1], (uint32_t)atol(argv[4]));
    open_pty();
    printf("%s\n", ptsname(pty));
    fflush(stdout);
    if (read(STDIN_FILENO, &go, 1) != 1)
        return 1;
    avr_cycle_timer_register_usec(avr, POLL_US, from_computer, NULL);
    avr_cycle_timer_register(avr, 1, play, NULL);
    while (avr->state != cpu_Done && avr->state != cpu_Crashed)
        avr_run(avr);
    printf("pulled %u, clocks %u, driven high %u, script %s, chip %s\n", times_pulled,
           clocks_while_pulled, times_driven_high,
           next_step->what == END && !waits_for_request ? "done" : "not done",
           avr->state == cpu_Crashed ? "crashed" : "stopped");
    return avr->state == cpu_Crashed;
}
