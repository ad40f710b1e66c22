#include "length.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdbool.h>
#include <util/atomic.h>

#include "clock.h"
#include "config.h"

#define PULSE_PIN PD2 /* INT0 */

static volatile uint32_t pulse_count;
static volatile uint32_t last_pulse_us;

/*
 * Both edges of a pulse bounce. So an edge is accepted only if it changes the last accepted level, and only after the dead
 * time of the last accepted one. A pulse is counted when the contact closes (pin goes low).
 */
ISR(INT0_vect) {
  static bool closed;
  static uint32_t accepted_us;

  const uint32_t now_us = clock_us();
  const bool low = !(PIND & _BV(PULSE_PIN));
  if (low == closed || now_us - accepted_us < PULSE_DEAD_TIME_US) return;

  closed = low;
  accepted_us = now_us;
  if (low) {
    pulse_count++;
    last_pulse_us = now_us;
  }
}

void length_start(void) {
  PORTD |= _BV(PULSE_PIN); /* pull-up */
  EICRA = _BV(ISC00);      /* any change of level */
  EIMSK |= _BV(INT0);
}

/*
 * The speed is calculated from the time between pulses, not from their number in a line period: at 90 mm/s that is 3.6 on
 * average, and a count of 3 or 4 would vary by a quarter.
 */
static float speed_mm_per_s(uint32_t pulses, uint32_t pulse_us, uint32_t now_us) {
  static bool running;
  static uint32_t window_pulses, window_us; /* start of the current window, always at a pulse */
  static float held;

  if (now_us - pulse_us > SPEED_ZERO_AFTER_US || pulses == 0) {
    running = false;
    held = 0.0f;
    return 0.0f;
  }
  if (!running) {
    running = true;
    window_pulses = pulses;
    window_us = pulse_us;
  } else if (pulse_us - window_us >= SPEED_WINDOW_US) {
    held = (float)(pulses - window_pulses) * LENGTH_UM_PER_PULSE * 1000.0f / (float)(pulse_us - window_us);
    window_pulses = pulses;
    window_us = pulse_us;
  }

  /* While the next pulse is overdue, the speed is at most one pulse in the time since the last one. */
  const float fastest = LENGTH_UM_PER_PULSE * 1000.0f / (float)(now_us - pulse_us + 1);
  return held < fastest ? held : fastest;
}

struct length_reading length_read(void) {
  static struct length_reading reading;
  static uint32_t counted;

  uint32_t pulses, pulse_us, now_us;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    pulses = pulse_count;
    pulse_us = last_pulse_us;
    now_us = clock_us();
  }

  /* Millimetres and micrometres are separate, so that the counter wraps at 2^32 mm for any length per pulse. */
  const uint32_t um = reading.um + (pulses - counted) * (uint32_t)LENGTH_UM_PER_PULSE;
  counted = pulses;
  reading.mm += um / 1000;
  reading.um = (uint16_t)(um % 1000);
  reading.speed_mm_per_s = speed_mm_per_s(pulses, pulse_us, now_us);
  return reading;
}
