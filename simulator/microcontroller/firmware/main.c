/*
 * Strandward reference firmware for an ATmega328P at 16 MHz.
 *
 *   ADC0 gauge voltage   ADC1..3 thermistors   PD2 (INT0) length pulses   PD4..6 heater signals (if sensed)   PD1 serial out
 *
 *   conversions --> mean over a line period --> mm, degC, fault bits --+
 *   pulses      --> length, speed --------------------------------------+--> one reading line every 20 ms --> serial port
 *
 * It only watches. Heaters keep their own controller and an independent over-temperature cut-out.
 */
#include <avr/interrupt.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <stdint.h>

#include "adc.h"
#include "clock.h"
#include "config.h"
#include "gauge.h"
#include "heater-sense.h"
#include "length.h"
#include "line.h"
#include "reset-cause.h"
#include "thermistor.h"
#include "uart.h"

#define GAUGE_INPUT 0

static void send_zone(uint8_t zone) {
  const struct thermistor_reading sensor = thermistor_read(adc_take_mean(zone)); /* zone 1 is on ADC1, etc. */
  line_zone_field('t', zone);
  line_real(sensor.celsius, 2);
  line_zone_field('f', zone);
  line_unsigned(sensor.fault_bits);

#ifdef SETPOINTS_CELSIUS
  static const uint16_t setpoints[ZONE_COUNT] = SETPOINTS_CELSIUS;
  line_zone_field('s', zone);
  line_unsigned(setpoints[zone - 1]);
#endif
#if HEATERS_ARE_SENSED
  line_zone_field('p', zone);
  line_real(heater_sense_power(zone), 2);
#endif
}

static void send_reading_line(uint32_t now_ms, uint32_t number) {
  line_field_P(PSTR("ms"));
  line_unsigned(now_ms);
  line_field_P(PSTR("n"));
  line_unsigned(number);
  line_field_P(PSTR("d"));
  line_real(gauge_diameter_mm(adc_take_mean(GAUGE_INPUT)), 3);
  for (uint8_t zone = 1; zone <= ZONE_COUNT; zone++) send_zone(zone);

  const struct length_reading length = length_read();
  line_field_P(PSTR("len"));
  line_thousandths(length.mm, length.um);
  line_field_P(PSTR("v"));
  line_real(length.speed_mm_per_s, 2);
  line_end();
}

int main(void) {
  uart_start();
  clock_start();
  adc_start();
  length_start();
  heater_sense_start();
  set_sleep_mode(SLEEP_MODE_IDLE);
  wdt_enable(WDTO_250MS);
  sei();

  line_note_P(PSTR("strandward reference firmware " FIRMWARE_VERSION ", ATmega328P, 16 MHz"), 0);
  line_note_P(PSTR("started by "), reset_cause_P());

  uint32_t due_ms = LINE_PERIOD_MS;
  uint32_t number = 0;
  for (;;) {
    wdt_reset();
    const uint32_t now_ms = clock_ms();
    if ((int32_t)(now_ms - due_ms) < 0) {
      sleep_mode(); /* until the next interrupt: a conversion every 0.1 ms */
      continue;
    }
    due_ms += LINE_PERIOD_MS; /* from the due time, so that delays do not add up */
    send_reading_line(now_ms, number++);
  }
}
