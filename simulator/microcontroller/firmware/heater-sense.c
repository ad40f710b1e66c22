#include "heater-sense.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <math.h>
#include <util/atomic.h>

#include "config.h"

#if HEATERS_ARE_SENSED

#define FIRST_HEATER_PIN PD4
#define HEATER_PINS (_BV(PD4) | _BV(PD5) | _BV(PD6))
#define WINDOW_SAMPLES 1000 /* at 1 kHz */

static volatile uint16_t on_samples[ZONE_COUNT];
static volatile uint8_t window_is_full;

/* Timer 1 is that of the clock and wraps every millisecond; its second compare channel samples halfway. */
ISR(TIMER1_COMPB_vect) {
  static uint16_t counted[ZONE_COUNT];
  static uint16_t samples;

  const uint8_t lit = (uint8_t)~PIND;
  for (uint8_t i = 0; i < ZONE_COUNT; i++) {
    if (lit & _BV(FIRST_HEATER_PIN + i)) counted[i]++;
  }
  if (++samples < WINDOW_SAMPLES) return;

  samples = 0;
  for (uint8_t i = 0; i < ZONE_COUNT; i++) {
    on_samples[i] = counted[i];
    counted[i] = 0;
  }
  window_is_full = 1;
}

void heater_sense_start(void) {
  PORTD |= HEATER_PINS; /* pull-ups: an unconnected input reads as off */
  OCR1B = (uint16_t)(F_CPU / 8 / 1000 / 2);
  TIMSK1 |= _BV(OCIE1B);
}

float heater_sense_power(uint8_t zone) {
  uint16_t on = 0;
  uint8_t full = 0;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    on = on_samples[zone - 1];
    full = window_is_full;
  }
  return full ? (float)on / WINDOW_SAMPLES : NAN;
}

#else

void heater_sense_start(void) {}

float heater_sense_power(uint8_t zone) {
  (void)zone;
  return NAN;
}

#endif
