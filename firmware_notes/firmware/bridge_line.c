#include "bridge_line.h"

#include <string.h>

static const char HEX_DIGITS[] = "0123456789ABCDEF";
static const char FLAG_LETTERS[] = "TXGOBR"; /* in the order of enum burst_flag */

uint16_t bridge_number_after(uint16_t number)
{
    return number < 999 ? number + 1 : 0;
}

/* CRC-16/CCITT-FALSE: polynomial 1021, begins with FFFF; "123456789" gives 29B1. */
uint16_t bridge_crc(const char *text, size_t length)
{
    uint16_t crc = 0xFFFF;

    while (length--) {
        crc ^= (uint16_t)((uint16_t)(uint8_t)*text++ << 8);
        for (uint8_t bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 0x8000 ? crc << 1 ^ 0x1021 : crc << 1);
    }
    return crc;
}

static char *put_hex(char *out, uint8_t byte)
{
    *out++ = HEX_DIGITS[byte >> 4];
    *out++ = HEX_DIGITS[byte & 15];
    return out;
}

static char *put_number(char *out, uint16_t number, uint8_t min_digits)
{
    char digits[5];
    uint8_t n = 0;

    do {
        digits[n++] = (char)('0' + number % 10);
        number /= 10;
    } while (number || n < min_digits);
    while (n)
        *out++ = digits[--n];
    return out;
}

static char *put_flags(char *out, uint8_t flags)
{
    if (flags == 0)
        *out++ = '0';
    for (uint8_t i = 0; FLAG_LETTERS[i]; i++)
        if (flags & 1u << i)
            *out++ = FLAG_LETTERS[i];
    return out;
}

size_t bridge_line_write(char out[BRIDGE_LINE_BYTES], const bridge_line *line)
{
    char *end = out;
    uint16_t crc;

    *end++ = '#';
    end = put_number(end, line->number, 3);
    *end++ = ',';
    end = put_number(end, line->port, 1);
    *end++ = ',';
    for (const char *kind = line->kind; *kind; kind++)
        *end++ = *kind;
    *end++ = ',';
    end = put_number(end, line->n_bits, 1);
    *end++ = ',';
    for (uint8_t i = 0; i < (line->n_bits + 7) / 8; i++)
        end = put_hex(end, line->packed[i]);
    *end++ = ',';
    end = put_flags(end, line->flags);
    crc = bridge_crc(out + 1, (size_t)(end - out - 1));
    *end++ = '*';
    end = put_hex(end, (uint8_t)(crc >> 8));
    end = put_hex(end, (uint8_t)crc);
    *end++ = '\r';
    *end++ = '\n';
    return (size_t)(end - out);
}

static enum bridge_command whole_command(const command_reader *reader, uint8_t port)
{
    if (reader->length == 2 && reader->text[0] == '?' && reader->text[1] == (char)('0' + port))
        return COMMAND_READ;
    if (reader->length != 1)
        return COMMAND_NONE;
    switch (reader->text[0]) {
    case 'I':
        return COMMAND_IDENT;
    case 'Q':
        return COMMAND_QUIET;
    case 'L':
        return COMMAND_LOUD;
    default:
        return COMMAND_NONE;
    }
}

enum bridge_command command_take(command_reader *reader, char c, uint8_t port)
{
    enum bridge_command command;

    if (c == '\n')
        return COMMAND_NONE;
    if (c != '\r') {
        /* A third character stays as the mark of a command that is too long. */
        if (reader->length < sizeof reader->text)
            reader->text[reader->length++] = c;
        return COMMAND_NONE;
    }
    command = whole_command(reader, port);
    reader->length = 0;
    return command;
}
