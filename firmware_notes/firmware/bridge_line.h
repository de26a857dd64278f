/*
 * The line protocol between a bridge and the computer; see bridge-line.md.
 * No pins and no UART here: text in, text out.
 */
#ifndef BRIDGE_LINE_H
#define BRIDGE_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* 255 bits, all flags, the checksum and the line end make 97 characters. */
enum { BRIDGE_LINE_BYTES = 104 };

typedef struct {
    uint16_t number;
    uint8_t port;
    const char *kind;
    uint8_t n_bits;
    const uint8_t *packed;
    uint8_t flags; /* of enum burst_flag */
} bridge_line;

/* The number of the next line. */
uint16_t bridge_number_after(uint16_t number);

uint16_t bridge_crc(const char *text, size_t length);

/* Writes the line with CR LF into out and returns its length; no zero at the end. */
size_t bridge_line_write(char out[BRIDGE_LINE_BYTES], const bridge_line *line);

enum bridge_command { COMMAND_NONE, COMMAND_READ, COMMAND_IDENT, COMMAND_QUIET, COMMAND_LOUD };

typedef struct {
    char text[3];
    uint8_t length;
} command_reader;

/* Takes a character from the computer; returns a command for this port when it is whole. */
enum bridge_command command_take(command_reader *reader, char c, uint8_t port);

#endif
