/* Conversion of ADC0 (gauge) and ADC1.. (zones) in the background, averaged from one reading line to the next. */
#ifndef ADC_H
#define ADC_H

#include <stdint.h>

void adc_start(void);

/*
 * Mean of all conversions of a channel since the last call, as a share of the reference voltage (0..1).
 * NAN = there was none. Averaging over the whole line period also filters out changes between two lines.
 */
float adc_take_mean(uint8_t channel);

#endif
