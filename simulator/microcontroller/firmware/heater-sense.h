/* Share of time that each heater is on, measured on its control signal. It drives nothing. */
#ifndef HEATER_SENSE_H
#define HEATER_SENSE_H

#include <stdint.h>

void heater_sense_start(void);

/* Mean power of zone 1..3 over the last full second, 0..1; NAN during the first second. */
float heater_sense_power(uint8_t zone);

#endif
