/*
 * Writes one reading line, field by field: name=value name=value ...*hh
 * The two hex digits are the XOR of all bytes before the asterisk, as in IEC 61162-1 (NMEA 0183).
 */
#ifndef LINE_H
#define LINE_H

#include <stdint.h>

/* Begins a field; `name` lies in program memory. */
void line_field_P(const char *name);

/* Begins a field that has one letter and the zone's number, such as t1. */
void line_zone_field(char letter, uint8_t zone);

/* The field's value. */
void line_unsigned(uint32_t value);

/* A value with 0 to 4 decimals, beneath 2^31 / 10^decimals in size; NAN is written as nan: no value this time. */
void line_real(float value, uint8_t decimals);

/* A value given as whole and thousandths (0..999), with 2 decimals: exact where a float would run out of digits. */
void line_thousandths(uint32_t whole, uint16_t thousandths);

/* Ends the line with its checksum. */
void line_end(void);

/* A whole note line: "# ", the texts (program memory, the second may be 0), checksum. */
void line_note_P(const char *text, const char *more);

#endif
