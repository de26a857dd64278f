/*
 * The firmware's own collector and line writer as a filter on a computer, for the tests.
 * It reads one command a line and prints what comes of it:
 *
 *     start N SAMPLE MIN_PULSE QUIET PATIENCE LEVEL NOW    begins anew
 *     expect NOW FLAGS      mark FLAGS
 *     edge AT CLOCK DATA    quiet NOW                      print the burst they end, if any
 *     line NUMBER PORT KIND N HEX FLAGS                    prints a line of the protocol
 *     after NUMBER                                         prints the number of the next line
 *     command PORT TEXT                                    prints commands; \r and \n escaped
 */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "bit_collector.h"
#include "bridge_line.h"

static bit_collector collector;
static collector_rules rules;

static void print_burst(const bit_burst *burst)
{
    printf("burst %u %u ", burst->n_bits, burst->flags);
    for (int i = 0; i < (burst->n_bits + 7) / 8; i++)
        printf("%02X", burst->packed[i]);
    printf("\n");
}

static int start(const char *rest)
{
    unsigned n_bits, sample, level;
    uint32_t at;
    int found = sscanf(rest, "%u %u %" SCNu32 " %" SCNu32 " %" SCNu32 " %u %" SCNu32, &n_bits,
                       &sample, &rules.min_pulse, &rules.quiet, &rules.patience, &level, &at);

    rules.n_bits = (uint8_t)n_bits;
    rules.sample_level = sample;
    collector_start(&collector, &rules, level, at);
    return found == 7;
}

static int line(const char *rest)
{
    char kind[8], hex[80], text[BRIDGE_LINE_BYTES];
    uint8_t packed[40] = {0};
    unsigned number, port, n_bits, flags;
    int found = sscanf(rest, "%u %u %7s %u %79s %u", &number, &port, kind, &n_bits, hex, &flags);
    bridge_line fields = {(uint16_t)number, (uint8_t)port, kind, (uint8_t)n_bits, packed,
                          (uint8_t)flags};

    for (size_t i = 0; i < strlen(hex) / 2; i++)
        sscanf(hex + 2 * i, "%2hhx", &packed[i]);
    fwrite(text, 1, bridge_line_write(text, &fields), stdout);
    return found == 6;
}

static int command(const char *rest)
{
    command_reader reader = {0};
    unsigned port = (unsigned)(*rest - '0');

    for (const char *c = rest + 2; *c && *c != '\n'; c++) {
        char sent = *c;
        if (sent == '\\')
            sent = *++c == 'r' ? '\r' : '\n';
        printf("%d", command_take(&reader, sent, (uint8_t)port));
    }
    printf("\n");
    return 1;
}

static int obey(const char *word, const char *rest)
{
    bit_burst burst;
    uint32_t at;
    unsigned one, two;

    if (!strcmp(word, "start"))
        return start(rest);
    if (!strcmp(word, "line"))
        return line(rest);
    if (!strcmp(word, "command"))
        return command(rest);
    if (!strcmp(word, "edge") && sscanf(rest, "%" SCNu32 " %u %u", &at, &one, &two) == 3) {
        if (collector_edge(&collector, at, one, two, &burst))
            print_burst(&burst);
    } else if (!strcmp(word, "quiet") && sscanf(rest, "%" SCNu32, &at) == 1) {
        if (collector_quiet(&collector, at, &burst))
            print_burst(&burst);
    } else if (!strcmp(word, "expect") && sscanf(rest, "%" SCNu32 " %u", &at, &one) == 2) {
        collector_expect(&collector, at, (uint8_t)one);
    } else if (!strcmp(word, "mark") && sscanf(rest, "%u", &one) == 1) {
        collector_mark(&collector, (uint8_t)one);
    } else if (!strcmp(word, "after") && sscanf(rest, "%u", &one) == 1) {
        printf("%u\n", bridge_number_after((uint16_t)one));
    } else {
        return 0;
    }
    return 1;
}

int main(void)
{
    char text[256], word[16];
    int used;

    while (fgets(text, sizeof text, stdin)) {
        if (sscanf(text, "%15s %n", word, &used) != 1 || !obey(word, text + used)) {
            fprintf(stderr, "not understood: %s", text);
            return 1;
        }
    }
    return 0;
}
