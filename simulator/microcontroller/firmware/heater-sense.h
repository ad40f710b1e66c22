/* Share of time that each zone's heater is switched on, seen on its control signal. It drives nothing. */
#ifndef HEATER_SENSE_H
#define HEATER_SENSE_H

#include <stdint.h>

void heater_sense_start(void);

/* Mean power of zone 1..3 over the last full second, 0..1; NAN before the first second is over. */
float heater_sense_power(uint8_t zone);

#endif
