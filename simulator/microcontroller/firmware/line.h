/*
 * Writes one reading line, field by field: name=value name=value ...*hh
 * The two hex digits are the XOR of all bytes before the asterisk, as in IEC 61162-1 (NMEA 0183).
 */
#ifndef LINE_H
#define LINE_H

#include <stdint.h>

/* Start a field; `name` is in program memory. */
void line_field_P(const char *name);

/* Start a field named by a letter and the number of the zone, such as t1. */
void line_zone_field(char letter, uint8_t zone);

/* The field's value. */
void line_unsigned(uint32_t value);

/* A value with 0 to 4 decimals, smaller than 2^31 / 10^decimals. NAN is written as nan: no value this time. */
void line_real(float value, uint8_t decimals);

/* A value as a whole number and thousandths (0..999), with 2 decimals: exact where a float has too few digits. */
void line_thousandths(uint32_t whole, uint16_t thousandths);

/* End the line with its checksum. */
void line_end(void);

/* A complete note: "# ", the texts (in program memory; the second may be 0), checksum. */
void line_note_P(const char *text, const char *more);

#endif
