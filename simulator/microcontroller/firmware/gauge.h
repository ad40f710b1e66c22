/* Strand diameter from the gauge's voltage. */
#ifndef GAUGE_H
#define GAUGE_H

/*
 * Diameter in mm for a share of the reference voltage (0..1); NAN stays NAN.
 * A saturated gauge is printed as it reads, not as a gap: a blob beyond the range must stay visible, and an empty gauge
 * is a lost strand. Give the input a resistor of 100 kohm to ground, so that a broken cable reads as an empty gauge too.
 */
float gauge_diameter_mm(float reference_share);

#endif
