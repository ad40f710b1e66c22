/*
 * Everything that belongs to one particular line: wiring, calibration, rates.
 * Each value can also be given to the compiler (-DNAME=value), so that variants build from the same sources.
 */
#ifndef CONFIG_H
#define CONFIG_H

#define FIRMWARE_VERSION "1.0"

/* ---- reading lines ---------------------------------------------------------------------------------------------- */

#ifndef LINE_PERIOD_MS
#define LINE_PERIOD_MS 20 /* 50 lines a second */
#endif

/* ---- analog inputs ---------------------------------------------------------------------------------------------- */

/* The converter compares with AVcc. Measure it between the board's 5V and GND pins: on USB power it is rarely 5.00 V. */
#ifndef ADC_REFERENCE_V
#define ADC_REFERENCE_V 5.000f
#endif

/* ---- gauge on ADC0: diameter = GAUGE_MM_AT_0_V + volts * GAUGE_MM_PER_V ------------------------------------------- */

/*
 * Measure two pin gauges (say 1.50 mm and 2.00 mm), note the two voltages U1 and U2, then
 *   GAUGE_MM_PER_V  = (2.00 - 1.50) / (U2 - U1)
 *   GAUGE_MM_AT_0_V = 1.50 - U1 * GAUGE_MM_PER_V
 */
#ifndef GAUGE_MM_AT_0_V
#define GAUGE_MM_AT_0_V 0.000f
#endif
#ifndef GAUGE_MM_PER_V
#define GAUGE_MM_PER_V 0.500f
#endif

/* ---- thermistors on ADC1, ADC2, ADC3 (zones 1, 2, 3) --------------------------------------------------------------- */

#define ZONE_COUNT 3
#define PULL_UP_OHM 4700.0f /* from AVcc to the input; the thermistor lies between input and ground */

#define STEINHART_HART 1
#define BETA 2
#ifndef THERMISTOR_MODEL
#define THERMISTOR_MODEL STEINHART_HART
#endif

/*
 * 1/T = A + B ln R + C (ln R)^3, R in ohm, T in kelvin.
 * The three constants pass through 25, 200 and 250 degC of the R/T curve 8406 (EPCOS/TDK, data sheet B57540G: R/R25 = 1,
 * 0.0028817, 0.0010318) for R25 = 100 kohm; at 160, 220 and 300 degC of that curve they are within 0.4 degC.
 * Take those of your own part.
 */
#ifndef STEINHART_HART_A
#define STEINHART_HART_A 1.02741183e-3f
#define STEINHART_HART_B 1.88472707e-4f
#define STEINHART_HART_C 1.02707380e-7f
#endif

/*
 * 1/T = 1/T0 + ln(R/R0) / B. A beta holds between the two temperatures that it was taken from, so anchor it where the
 * barrel works, not at 25 degC: here 200 and 250 degC of the same curve. At 25 degC it would read 33 degC.
 */
#ifndef BETA_KELVIN
#define BETA_OHM 288.17f
#define BETA_CELSIUS 200.0f
#define BETA_KELVIN 5084.6f
#endif

/*
 * Beyond these the sensor or its wire is at fault. 25 ohm would be hotter than 400 degC, 1.3 Mohm colder than -20 degC.
 * An open circuit and a short to the supply look the same on this wiring; both are reported as open.
 */
#define THERMISTOR_SHORT_OHM 25.0f
#define THERMISTOR_OPEN_OHM 1.3e6f

/* ---- length: pulses on INT0 (PD2), contact or open collector to ground ---------------------------------------------- */

#ifndef LENGTH_UM_PER_PULSE
#define LENGTH_UM_PER_PULSE 500 /* measuring wheel: circumference / pulses a turn, in micrometres */
#endif
#define PULSE_DEAD_TIME_US 1000  /* a contact bounces for less; both halves of a pulse must be longer */
#define SPEED_WINDOW_US 100000   /* speed is the mean over at least this long, ended by a pulse */
#define SPEED_ZERO_AFTER_US 2000000 /* no pulse for so long: the strand stands still */

/* ---- heaters: this firmware watches and never drives them ----------------------------------------------------------- */

/*
 * 1 if the low-voltage control signals of the three heater switches reach PD4, PD5, PD6 through optocouplers
 * (lit = pin low). Then p1..p3 are printed. Never bring mains voltage to the board.
 */
#ifndef HEATERS_ARE_SENSED
#define HEATERS_ARE_SENSED 0
#endif

/*
 * The controllers' set-points in degC, if they are fixed and somebody keeps them right here, e.g. {170, 185, 190}.
 * Then s1..s3 are printed. Left undefined, they are not: a wrong set-point is worse than none.
 */
/* #define SETPOINTS_CELSIUS {170, 185, 190} */

#endif
