#include "thermistor.h"

#include <math.h>

#include "config.h"

#define ZERO_CELSIUS_KELVIN 273.15f

float steinhart_hart_celsius(const struct steinhart_hart *constants, float ohm) {
  const float l = logf(ohm);
  return 1.0f / (constants->a + l * (constants->b + constants->c * l * l)) - ZERO_CELSIUS_KELVIN;
}

float beta_celsius(const struct beta_model *constants, float ohm) {
  const float inverse = 1.0f / (constants->celsius + ZERO_CELSIUS_KELVIN) + logf(ohm / constants->ohm) / constants->kelvin;
  return 1.0f / inverse - ZERO_CELSIUS_KELVIN;
}

float divider_ohm(float reference_share, float pull_up_ohm) {
  return pull_up_ohm * reference_share / (1.0f - reference_share);
}

static float configured_celsius(float ohm) {
#if THERMISTOR_MODEL == STEINHART_HART
  static const struct steinhart_hart constants = {STEINHART_HART_A, STEINHART_HART_B, STEINHART_HART_C};
  return steinhart_hart_celsius(&constants, ohm);
#elif THERMISTOR_MODEL == BETA
  static const struct beta_model constants = {BETA_OHM, BETA_CELSIUS, BETA_KELVIN};
  return beta_celsius(&constants, ohm);
#else
#error "THERMISTOR_MODEL in config.h must be STEINHART_HART or BETA"
#endif
}

struct thermistor_reading thermistor_read(float reference_share) {
  /* The limits are shares, so that a full-scale reading does not divide by zero. */
  const float open_share = THERMISTOR_OPEN_OHM / (THERMISTOR_OPEN_OHM + PULL_UP_OHM);
  const float short_share = THERMISTOR_SHORT_OHM / (THERMISTOR_SHORT_OHM + PULL_UP_OHM);
  struct thermistor_reading reading = {NAN, 0};

  if (reference_share > open_share) {
    reading.fault_bits = SENSOR_OPEN_CIRCUIT;
  } else if (reference_share < short_share) {
    reading.fault_bits = SENSOR_SHORT_TO_GROUND;
  } else if (!isnan(reference_share)) {
    reading.celsius = configured_celsius(divider_ohm(reference_share, PULL_UP_OHM));
  }
  return reading;
}
