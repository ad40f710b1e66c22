#include "pins.h"

#include <avr_ioport.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sim_cycle_timers.h>

#include "board.h"

#define PULSE_PIN 2
#define FIRST_HEATER_PIN 4
#define BOUNCE_TOGGLES 6 /* even, so that the contact ends at its new level */

static double pulses_per_s;
static double bounce_us;
static bool contact_closed;
static double next_edge_cycle; /* not rounded, so that the rate does not drift */
static int toggles_left;

static double heater_share[BOARD_HEATERS];
static bool heater_on[BOARD_HEATERS];

static void drive(avr_t *avr, int pin, bool low) {
  avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), pin), !low);
}

/* Called for each change of the contact: the edge, its bounces, then the next edge. */
static avr_cycle_count_t on_contact(avr_t *avr, avr_cycle_count_t when, void *unused) {
  (void)unused;
  contact_closed = !contact_closed;
  drive(avr, PULSE_PIN, contact_closed);

  if (toggles_left == 0) {
    next_edge_cycle += BOARD_HZ / (2.0 * pulses_per_s);
    if (bounce_us > 0.0) toggles_left = BOUNCE_TOGGLES + 1;
  }
  if (toggles_left > 1) {
    toggles_left--;
    return when + (avr_cycle_count_t)(bounce_us * BOARD_HZ / 1e6 / BOUNCE_TOGGLES);
  }
  toggles_left = 0;
  return next_edge_cycle > (double)when ? (avr_cycle_count_t)next_edge_cycle : when + 1;
}

static avr_cycle_count_t on_heater(avr_t *avr, avr_cycle_count_t when, void *parameter) {
  const int i = (int)(intptr_t)parameter;
  heater_on[i] = !heater_on[i];
  drive(avr, FIRST_HEATER_PIN + i, heater_on[i]);
  return when + (avr_cycle_count_t)(BOARD_HZ * (heater_on[i] ? heater_share[i] : 1.0 - heater_share[i]));
}

static void start_contact(avr_t *avr) {
  avr_cycle_timer_cancel(avr, on_contact, NULL);
  toggles_left = 0;
  if (pulses_per_s <= 0.0) return;
  const double half_period = BOARD_HZ / (2.0 * pulses_per_s);
  next_edge_cycle = (double)avr->cycle + half_period;
  avr_cycle_timer_register(avr, (avr_cycle_count_t)half_period, on_contact, NULL);
}

static void start_heater(avr_t *avr, int i) {
  void *parameter = (void *)(intptr_t)i;
  avr_cycle_timer_cancel(avr, on_heater, parameter);
  heater_on[i] = heater_share[i] > 0.0;
  drive(avr, FIRST_HEATER_PIN + i, heater_on[i]);
  if (heater_share[i] > 0.0 && heater_share[i] < 1.0) {
    avr_cycle_timer_register(avr, (avr_cycle_count_t)(BOARD_HZ * heater_share[i]), on_heater, parameter);
  }
}

void pins_restart(avr_t *avr) {
  drive(avr, PULSE_PIN, contact_closed);
  start_contact(avr);
  for (int i = 0; i < BOARD_HEATERS; i++) start_heater(avr, i);
}

void pins_set_pulses(avr_t *avr, double hz) {
  pulses_per_s = hz;
  start_contact(avr);
}

void pins_set_bounce(double us) { bounce_us = us; }

void pins_set_heater(avr_t *avr, unsigned zone, double share) {
  heater_share[zone - 1] = share;
  start_heater(avr, (int)zone - 1);
}
