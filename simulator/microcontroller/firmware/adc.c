#include "adc.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <math.h>
#include <util/atomic.h>

#include "config.h"

#define GAUGE_CHANNEL 0
#define FIRST_ZONE_CHANNEL 1
#define CHANNEL_COUNT (FIRST_ZONE_CHANNEL + ZONE_COUNT)
#define CODES 1024.0f /* data sheet: code = volts * 1024 / reference */

struct sum {
  uint32_t codes;
  uint16_t count;
};

static volatile struct sum sums[CHANNEL_COUNT];

static void convert(uint8_t channel) {
  ADMUX = _BV(REFS0) | channel; /* reference AVcc */
  ADCSRA |= _BV(ADSC);
}

/*
 * There are 9615 conversions per second. Every other one is of the gauge, because the strand changes fast and the barrel
 * slowly: 96 of the gauge and 32 of each zone in 20 ms.
 */
ISR(ADC_vect) {
  static uint8_t converted = GAUGE_CHANNEL;
  static uint8_t next_zone = FIRST_ZONE_CHANNEL;

  sums[converted].codes += ADC;
  sums[converted].count++;

  if (converted == GAUGE_CHANNEL) {
    converted = next_zone;
    next_zone = next_zone + 1 < CHANNEL_COUNT ? next_zone + 1 : FIRST_ZONE_CHANNEL;
  } else {
    converted = GAUGE_CHANNEL;
  }
  convert(converted);
}

void adc_start(void) {
  DIDR0 = (uint8_t)(_BV(CHANNEL_COUNT) - 1); /* analog pins need no digital input buffer */
  /* clock / 128 = 125 kHz; the data sheet requires 50 to 200 kHz for ten bits */
  ADCSRA = _BV(ADEN) | _BV(ADIE) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
  convert(GAUGE_CHANNEL);
}

float adc_take_mean(uint8_t channel) {
  uint32_t codes;
  uint16_t count;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    codes = sums[channel].codes;
    count = sums[channel].count;
    sums[channel].codes = 0;
    sums[channel].count = 0;
  }
  if (count == 0) return NAN;
  return (float)codes / ((float)count * CODES);
}
