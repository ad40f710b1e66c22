/* Strand diameter from the gauge's voltage. */
#ifndef GAUGE_H
#define GAUGE_H

/*
 * Diameter in mm for a share of the reference voltage (0..1); NAN stays NAN.
 * A saturated gauge is printed as it reads, not as a gap, because a blob beyond its range must stay visible, and an empty
 * gauge means a lost strand. Connect 100 kohm from the input to ground, so that a broken cable also reads as empty.
 */
float gauge_diameter_mm(float reference_share);

#endif
