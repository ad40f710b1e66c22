/* The signals at the digital inputs: the contact of the measuring wheel on PD2, the heater signals on PD4..PD6. */
#ifndef PINS_H
#define PINS_H

#include <sim_avr.h>

/* Set every input to its current level and start the timed changes. To be called after each reset. */
void pins_restart(avr_t *avr);

void pins_set_pulses(avr_t *avr, double hz);
void pins_set_bounce(double bounce_us);
void pins_set_heater(avr_t *avr, unsigned zone, double share);

#endif
