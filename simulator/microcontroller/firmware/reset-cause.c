#include "reset-cause.h"

#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>
#include <stdint.h>

/* Not in .bss, which is cleared after the function below has run. */
static uint8_t flags __attribute__((section(".noinit")));

/*
 * Runs before main and before the variables are initialised, because the watchdog stays enabled at 15 ms after a watchdog
 * reset and would trigger again during start-up. If the boot loader clears the flags, the cause is unknown.
 */
void reset_cause_note(void) __attribute__((naked, used, section(".init3")));
void reset_cause_note(void) {
  flags = MCUSR;
  MCUSR = 0;
  wdt_disable();
}

const char *reset_cause_P(void) {
  if (flags & _BV(WDRF)) return PSTR("watchdog: the program hung");
  if (flags & _BV(BORF)) return PSTR("supply voltage too low");
  if (flags & _BV(EXTRF)) return PSTR("reset pin");
  if (flags & _BV(PORF)) return PSTR("power-on");
  return PSTR("unknown");
}
