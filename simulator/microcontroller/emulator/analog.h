/* Voltages at the analog inputs and their conversion. */
#ifndef ANALOG_H
#define ANALOG_H

#include <sim_avr.h>
#include <stdint.h>

void analog_connect(avr_t *avr);

/* Linear from `from_mv` at `start_cycle` to `to_mv` within `cycles`, then constant. */
void analog_set(unsigned input, double from_mv, double to_mv, uint64_t start_cycle, double cycles);

void analog_set_noise(unsigned input, double sigma_mv);

/* Voltage without noise, mV. */
double analog_mv(unsigned input, uint64_t cycle);

#endif
