#include "analog.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <avr_adc.h>

#include "board.h"

struct input {
  double from_mv, to_mv;
  uint64_t start_cycle;
  double ramp_cycles;
  double noise_mv;
};

static struct input inputs[BOARD_ANALOG_INPUTS];
static unsigned short random_state[3] = {0x1234, 0x5678, 0x9ABC};

/* Standard normal deviate (Box & Muller 1958), from a fixed seed. */
static double normal(void) {
  const double u = 1.0 - erand48(random_state);
  const double v = erand48(random_state);
  return sqrt(-2.0 * log(u)) * cos(2.0 * M_PI * v);
}

double analog_mv(unsigned i, uint64_t cycle) {
  const struct input *input = &inputs[i];
  const double elapsed = (double)(cycle - input->start_cycle);
  if (elapsed >= input->ramp_cycles) return input->to_mv;
  return input->from_mv + (input->to_mv - input->from_mv) * elapsed / input->ramp_cycles;
}

/* The ideal converter of the data sheet: code = volts * 1024 / reference, changing halfway between two codes. */
static uint32_t ideal_code(double mv) {
  const double code = floor(mv * 1024.0 / BOARD_REFERENCE_MV + 0.5);
  return code < 0.0 ? 0 : code > 1023.0 ? 1023 : (uint32_t)code;
}

/*
 * The library uses whole millivolts and 1023 steps, rounding down, but the chip has 1024. So the code is calculated here,
 * and the library receives the voltage that its formula converts to this code.
 */
static uint32_t library_mv(uint32_t code) { return (uint32_t)ceil(code * BOARD_REFERENCE_MV / 1023.0); }

static void on_conversion(avr_irq_t *irq, uint32_t value, void *parameter) {
  (void)irq;
  avr_t *avr = parameter;
  avr_adc_mux_t mux;
  memcpy(&mux, &value, sizeof value);
  if (mux.kind != ADC_MUX_SINGLE || mux.src >= BOARD_ANALOG_INPUTS) return;

  const unsigned i = mux.src;
  double mv = analog_mv(i, avr->cycle);
  if (inputs[i].noise_mv > 0.0) mv += inputs[i].noise_mv * normal();
  avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + (int)i), library_mv(ideal_code(mv)));
}

void analog_connect(avr_t *avr) {
  avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), on_conversion, avr);
}

void analog_set(unsigned input, double from_mv, double to_mv, uint64_t start_cycle, double cycles) {
  inputs[input].from_mv = from_mv;
  inputs[input].to_mv = to_mv;
  inputs[input].start_cycle = start_cycle;
  inputs[input].ramp_cycles = cycles;
}

void analog_set_noise(unsigned input, double sigma_mv) { inputs[input].noise_mv = sigma_mv; }
