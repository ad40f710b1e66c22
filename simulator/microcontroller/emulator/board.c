#include "board.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_elf.h>

#include "analog.h"
#include "pins.h"

#define MCUSR_ADDRESS 0x54 /* data sheet, register summary */
#define MCUSR_RESET_PIN 0x02
#define JUMP_TO_ITSELF 0xCFFF /* rjmp .-2 */

static avr_t *avr;
static void (*report_sent)(uint8_t byte);
static void (*reset_processor)(avr_t *);

static uint64_t reset_cycle;
static bool hanging;
static uint32_t hang_address;
static uint8_t replaced_code[2];

static void on_uart_byte(avr_irq_t *irq, uint32_t value, void *unused) {
  (void)irq;
  (void)unused;
  report_sent((uint8_t)value);
}

/* main.c keeps emulated time in step with real time, so the library must not sleep. */
static void do_not_sleep(avr_t *processor, avr_cycle_count_t cycles) {
  (void)processor;
  (void)cycles;
}

/* Called for every kind of reset. A reset clears the library's timers, so the inputs have to be started again. */
static void on_reset(avr_t *processor) {
  if (reset_processor) reset_processor(processor);
  reset_cycle = processor->cycle;
  if (hanging) {
    memcpy(processor->flash + hang_address, replaced_code, sizeof replaced_code);
    hanging = false;
  }
  pins_restart(processor);
}

void board_start(const char *elf_path, void (*on_sent)(uint8_t byte)) {
  elf_firmware_t program;
  memset(&program, 0, sizeof program);
  if (elf_read_firmware(elf_path, &program) != 0) {
    fprintf(stderr, "emulator: %s is no readable AVR program (build it with make firmware)\n", elf_path);
    exit(1);
  }
  avr = avr_make_mcu_by_name("atmega328p");
  if (!avr) {
    fprintf(stderr, "emulator: this libsimavr does not know the ATmega328P\n");
    exit(1);
  }
  avr_init(avr);
  avr->log = LOG_ERROR;
  program.frequency = (uint32_t)BOARD_HZ;
  avr_load_firmware(avr, &program);
  avr->vcc = avr->avcc = avr->aref = (uint32_t)BOARD_REFERENCE_MV;
  avr->sleep = do_not_sleep;

  report_sent = on_sent;
  uint32_t flags = 0;
  avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
  flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
  avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
  avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_uart_byte, NULL);

  analog_connect(avr);
  reset_processor = avr->reset;
  avr->reset = on_reset;
  pins_restart(avr);
}

uint64_t board_cycle(void) { return avr->cycle; }

double board_uptime_ms(void) { return (double)(avr->cycle - reset_cycle) * 1000.0 / BOARD_HZ; }

bool board_run_until(uint64_t cycle) {
  while (avr->cycle < cycle) {
    const int state = avr_run(avr);
    if (state == cpu_Done || state == cpu_Crashed) return false;
  }
  return true;
}

void board_reset(void) {
  avr_reset(avr);
  avr->data[MCUSR_ADDRESS] = MCUSR_RESET_PIN; /* the library would call it a power-on */
}

void board_hang(void) {
  if (hanging) return;
  hanging = true;
  hang_address = avr->pc;
  memcpy(replaced_code, avr->flash + hang_address, sizeof replaced_code);
  avr->flash[hang_address] = JUMP_TO_ITSELF & 0xFF;
  avr->flash[hang_address + 1] = JUMP_TO_ITSELF >> 8;
}

void board_set_analog(unsigned input, double from_mv, double to_mv, double seconds) {
  analog_set(input, from_mv, to_mv, avr->cycle, seconds * BOARD_HZ);
}

void board_set_analog_noise(unsigned input, double sigma_mv) { analog_set_noise(input, sigma_mv); }

double board_analog(unsigned input) { return analog_mv(input, avr->cycle); }

void board_set_pulses(double hz) { pins_set_pulses(avr, hz); }

void board_set_bounce(double bounce_us) { pins_set_bounce(bounce_us); }

void board_set_heater(unsigned zone, double share) { pins_set_heater(avr, zone, share); }
