/* Time since reset, from Timer 1. */
#ifndef CLOCK_H
#define CLOCK_H

#include <stdint.h>

void clock_start(void);

/* Milliseconds since reset; wraps at 2^32 (49.7 days). */
uint32_t clock_ms(void);

/* Microseconds since reset, steps of 1; wraps at 2^32 (71.6 minutes), so use differences only. Safe in interrupts. */
uint32_t clock_us(void);

#endif
