/*
 * The settings of one particular line: wiring, calibration, rates.
 * Each value can also be set on the compiler's command line (-DNAME=value), so that variants use the same sources.
 */
#ifndef CONFIG_H
#define CONFIG_H

#define FIRMWARE_VERSION "1.0"

/* ---- reading lines ---------------------------------------------------------------------------------------------- */

#ifndef LINE_PERIOD_MS
#define LINE_PERIOD_MS 20 /* 50 lines per second */
#endif

/* ---- analog inputs ---------------------------------------------------------------------------------------------- */

/* Voltage of AVcc, the converter's reference. Measure it between 5V and GND of the board; on USB it is rarely 5.00 V. */
#ifndef ADC_REFERENCE_V
#define ADC_REFERENCE_V 5.000f
#endif

/* ---- gauge on ADC0: diameter = GAUGE_MM_AT_0_V + volts * GAUGE_MM_PER_V ------------------------------------------- */

/*
 * Measure two pin gauges (for example 1.50 mm and 2.00 mm), note the voltages U1 and U2, then calculate
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
#define PULL_UP_OHM 4700.0f /* from AVcc to the input; the thermistor is between the input and ground */

#define STEINHART_HART 1
#define BETA 2
#ifndef THERMISTOR_MODEL
#define THERMISTOR_MODEL STEINHART_HART
#endif

/*
 * 1/T = A + B ln R + C (ln R)^3, R in ohm, T in kelvin.
 * The three constants are exact at 25, 200 and 250 degC of the R/T curve 8406 (EPCOS/TDK, data sheet B57540G: R/R25 = 1,
 * 0.0028817, 0.0010318) for R25 = 100 kohm, and within 0.4 degC at 160, 220 and 300 degC.
 * Use those of your own part.
 */
#ifndef STEINHART_HART_A
#define STEINHART_HART_A 1.02741183e-3f
#define STEINHART_HART_B 1.88472707e-4f
#define STEINHART_HART_C 1.02707380e-7f
#endif

/*
 * 1/T = 1/T0 + ln(R/R0) / B. A beta is valid between the two temperatures it was calculated from, so use temperatures of
 * the barrel, here 200 and 250 degC of the same curve. At 25 degC it would read 33 degC.
 */
#ifndef BETA_KELVIN
#define BETA_OHM 288.17f
#define BETA_CELSIUS 200.0f
#define BETA_KELVIN 5084.6f
#endif

/*
 * Outside these limits the sensor or its wire is faulty. 25 ohm would be above 400 degC, 1.3 Mohm below -20 degC.
 * This wiring cannot distinguish an open circuit from a short to the supply; both are reported as open.
 */
#define THERMISTOR_SHORT_OHM 25.0f
#define THERMISTOR_OPEN_OHM 1.3e6f

/* ---- length: pulses on INT0 (PD2), contact or open collector to ground ---------------------------------------------- */

#ifndef LENGTH_UM_PER_PULSE
#define LENGTH_UM_PER_PULSE 500 /* measuring wheel: circumference / pulses per turn, in micrometres */
#endif
#define PULSE_DEAD_TIME_US 1000  /* longer than the contact bounces, shorter than each half of a pulse */
#define SPEED_WINDOW_US 100000   /* speed is the mean over at least this time, up to a pulse */
#define SPEED_ZERO_AFTER_US 2000000 /* without a pulse for this long, the strand is not moving */

/* ---- heaters: this firmware only watches them, never drives them ----------------------------------------------------------- */

/*
 * 1 if the low-voltage control signals of the three heater switches are connected to PD4, PD5, PD6 through optocouplers
 * (on = pin low). Then p1..p3 are printed. Never connect mains voltage to the board.
 */
#ifndef HEATERS_ARE_SENSED
#define HEATERS_ARE_SENSED 0
#endif

/*
 * Set-points of the controllers in degC, if they are fixed and you keep them up to date here, e.g. {170, 185, 190}.
 * Then s1..s3 are printed. Leave it undefined otherwise: a wrong set-point is worse than none.
 */
/* #define SETPOINTS_CELSIUS {170, 185, 190} */

#endif
