/* Temperature of an NTC thermistor with a pull-up resistor. Only arithmetic, so it also compiles on a PC. */
#ifndef THERMISTOR_H
#define THERMISTOR_H

#include <stdint.h>

/* Fault bits as printed in f1..f3. This wiring cannot distinguish a short to the supply (4) from an open circuit. */
#define SENSOR_OPEN_CIRCUIT 1
#define SENSOR_SHORT_TO_GROUND 2

struct steinhart_hart {
  float a, b, c; /* for ln(R / ohm) */
};

struct beta_model {
  float ohm;     /* R0, the resistance at `celsius` */
  float celsius; /* T0 */
  float kelvin;  /* beta */
};

struct thermistor_reading {
  float celsius; /* NAN if `fault_bits` is not 0 */
  uint8_t fault_bits;
};

/* Steinhart & Hart, Deep-Sea Research 15 (1968) 497: 1/T = A + B ln R + C (ln R)^3. */
float steinhart_hart_celsius(const struct steinhart_hart *constants, float ohm);

/* IEC 60539-1, B value: R = R0 exp(B (1/T - 1/T0)). */
float beta_celsius(const struct beta_model *constants, float ohm);

/* Resistance to ground of a divider with `reference_share` (0..1, below 1) of the pull-up's supply. */
float divider_ohm(float reference_share, float pull_up_ohm);

/* The model, pull-up and fault limits of config.h applied to a mean conversion. */
struct thermistor_reading thermistor_read(float reference_share);

#endif
