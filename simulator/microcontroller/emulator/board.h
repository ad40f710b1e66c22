/* The emulated board: an ATmega328P at 16 MHz with its analog inputs, length pulses and heater signals. */
#ifndef BOARD_H
#define BOARD_H

#include <stdbool.h>
#include <stdint.h>

#define BOARD_HZ 16000000.0
#define BOARD_ANALOG_INPUTS 8
#define BOARD_HEATERS 3
#define BOARD_REFERENCE_MV 5000.0

/* Loads the program and starts the processor. `on_sent` is called with each byte of the serial output.
 * Ends the process with an error on stderr if the file can't be used. */
void board_start(const char *elf_path, void (*on_sent)(uint8_t byte));

/* Cycles since the start; a reset does not change it. */
uint64_t board_cycle(void);

/* Emulated time since the last reset of any kind, ms: slightly more than the firmware prints as ms. */
double board_uptime_ms(void);

/* Run until this cycle. False = the processor has stopped (a crash, or sleep with interrupts off). */
bool board_run_until(uint64_t cycle);

/* Press the reset button. */
void board_reset(void);

/* Make the program hang until the watchdog (or board_reset) restarts it. */
void board_hang(void);

/* Voltage of an analog input, in mV; from `from_mv` to `to_mv` within `seconds` of emulated time, then constant. */
void board_set_analog(unsigned input, double from_mv, double to_mv, double seconds);

/* Gaussian noise added to each conversion, standard deviation in mV. The sequence is the same in each run. */
void board_set_analog_noise(unsigned input, double sigma_mv);

/* Current voltage of an analog input without noise, mV. */
double board_analog(unsigned input);

/* Length pulses (PD2 closes to ground) per second; 0 stops them. Each edge bounces for `bounce_us`. */
void board_set_pulses(double hz);
void board_set_bounce(double bounce_us);

/* Heater signal of zone 1..3 (PD4..PD6 low while on): switched once a second, on for `share` (0..1) of it. */
void board_set_heater(unsigned zone, double share);

#endif
