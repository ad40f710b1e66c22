#include "clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#define TIMER_PRESCALER 8UL
#define TIMER_COUNTS_PER_MS (F_CPU / TIMER_PRESCALER / 1000UL)
#define TIMER_COUNTS_PER_US (TIMER_COUNTS_PER_MS / 1000UL)

static volatile uint32_t elapsed_ms;

ISR(TIMER1_COMPA_vect) { elapsed_ms++; }

void clock_start(void) {
  OCR1A = (uint16_t)(TIMER_COUNTS_PER_MS - 1);
  TIMSK1 |= _BV(OCIE1A);
  TCCR1B = _BV(WGM12) | _BV(CS11); /* count to OCR1A and start again; clock / 8 */
}

uint32_t clock_ms(void) {
  uint32_t ms;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { ms = elapsed_ms; }
  return ms;
}

uint32_t clock_us(void) {
  uint32_t ms;
  uint16_t counts;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    ms = elapsed_ms;
    counts = TCNT1;
    /* If the timer has wrapped and its interrupt is still pending, the millisecond is one behind. */
    if ((TIFR1 & _BV(OCF1A)) && counts < TIMER_COUNTS_PER_MS / 2) ms++;
  }
  return ms * 1000UL + counts / TIMER_COUNTS_PER_US;
}
