/*
 * Answers questions of a test with the firmware's thermistor arithmetic, one per line on standard input:
 *   sh A B C OHM      beta R0 T0 B OHM      read SHARE
 */
#include <stdio.h>

#include "thermistor.h"

int main(void) {
  char line[200];
  float a, b, c, ohm;
  while (fgets(line, sizeof line, stdin)) {
    if (sscanf(line, "sh %f %f %f %f", &a, &b, &c, &ohm) == 4) {
      const struct steinhart_hart constants = {a, b, c};
      printf("%.4f\n", (double)steinhart_hart_celsius(&constants, ohm));
    } else if (sscanf(line, "beta %f %f %f %f", &a, &b, &c, &ohm) == 4) {
      const struct beta_model constants = {a, b, c};
      printf("%.4f\n", (double)beta_celsius(&constants, ohm));
    } else if (sscanf(line, "read %f", &a) == 1) {
      const struct thermistor_reading reading = thermistor_read(a);
      printf("%.4f %u\n", (double)reading.celsius, reading.fault_bits);
    } else {
      fprintf(stderr, "unknown question: %s", line);
      return 1;
    }
  }
  return 0;
}
