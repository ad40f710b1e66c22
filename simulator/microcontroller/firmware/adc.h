/* Background conversion of ADC0 (gauge) and ADC1.. (zones), averaged between two reading lines. */
#ifndef ADC_H
#define ADC_H

#include <stdint.h>

void adc_start(void);

/*
 * Mean of all conversions of a channel since the last call, as a share of the reference voltage (0..1).
 * NAN if there was none. Averaging over the whole line period is also the filter against what happens between lines.
 */
float adc_take_mean(uint8_t channel);

#endif
