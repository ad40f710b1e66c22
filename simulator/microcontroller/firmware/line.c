#include "line.h"

#include <avr/pgmspace.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "uart.h"

static uint8_t checksum;
static bool line_is_empty = true;

static void put(char c) {
  checksum ^= (uint8_t)c;
  line_is_empty = false;
  uart_put((uint8_t)c);
}

static void put_text_P(const char *text) {
  for (char c; (c = (char)pgm_read_byte(text)) != 0; text++) put(c);
}

static void put_hex_digit(uint8_t nibble) { uart_put((uint8_t)(nibble < 10 ? '0' + nibble : 'A' + nibble - 10)); }

/* Prints at least `digits` digits, with leading zeros. printf would take 1.5 KB and cannot print %f. */
static void put_digits(uint32_t value, uint8_t digits) {
  char text[11];
  ultoa(value, text, 10);
  uint8_t length = 0;
  while (text[length]) length++;
  while (digits-- > length) put('0');
  for (uint8_t i = 0; i < length; i++) put(text[i]);
}

void line_field_P(const char *name) {
  if (!line_is_empty) put(' ');
  put_text_P(name);
  put('=');
}

void line_zone_field(char letter, uint8_t zone) {
  if (!line_is_empty) put(' ');
  put(letter);
  put((char)('0' + zone));
  put('=');
}

void line_unsigned(uint32_t value) { put_digits(value, 1); }

void line_real(float value, uint8_t decimals) {
  if (isnan(value)) {
    put_text_P(PSTR("nan"));
    return;
  }
  uint32_t scale = 1;
  for (uint8_t i = 0; i < decimals; i++) scale *= 10;
  const uint32_t scaled = (uint32_t)(fabsf(value) * (float)scale + 0.5f);
  if (value < 0.0f && scaled != 0) put('-');
  put_digits(scaled / scale, 1);
  if (decimals == 0) return;
  put('.');
  put_digits(scaled % scale, decimals);
}

void line_thousandths(uint32_t whole, uint16_t thousandths) {
  put_digits(whole, 1);
  put('.');
  put_digits(thousandths / 10, 2);
}

void line_end(void) {
  uart_put('*');
  put_hex_digit(checksum >> 4);
  put_hex_digit(checksum & 0x0F);
  uart_put('\n');
  checksum = 0;
  line_is_empty = true;
}

void line_note_P(const char *text, const char *more) {
  put('#');
  put(' ');
  put_text_P(text);
  if (more) put_text_P(more);
  line_end();
}
