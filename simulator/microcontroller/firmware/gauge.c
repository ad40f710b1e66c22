#include "gauge.h"

#include "config.h"

float gauge_diameter_mm(float reference_share) {
  return GAUGE_MM_AT_0_V + reference_share * ADC_REFERENCE_V * GAUGE_MM_PER_V;
}
