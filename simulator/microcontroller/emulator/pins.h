/* What drives the board's digital inputs: the measuring wheel's contact on PD2 and the heater signals on PD4..PD6. */
#ifndef PINS_H
#define PINS_H

#include <sim_avr.h>

/* Sets every input to its present level and the timed changes going; after each reset. */
void pins_restart(avr_t *avr);

void pins_set_pulses(avr_t *avr, double hz);
void pins_set_bounce(double bounce_us);
void pins_set_heater(avr_t *avr, unsigned zone, double share);

#endif
