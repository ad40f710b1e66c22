#include "commands.h"

#include <errno.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "board.h"
#include "terminal.h"

const char commands_help[] =
    "  adc INPUT MV              voltage of an analog input (0 gauge, 1..3 thermistors)\n"
    "  ramp INPUT FROM TO S      change from one voltage to another within S seconds\n"
    "  noise INPUT MV            noise of each conversion, standard deviation\n"
    "  pulses HZ                 length pulses per second; 0 stops them\n"
    "  bounce US                 time that each edge of a pulse bounces\n"
    "  heater ZONE SHARE         share of time (0..1) that a zone's heater signal is on\n"
    "  unplug, plug              unplug the cable, plug it in (the board keeps running)\n"
    "  reset                     press the reset button\n"
    "  hang                      make the program hang until the watchdog restarts it\n"
    "  speed X                   emulated seconds per real second\n"
    "  wait S                    read the next command after S emulated seconds\n"
    "  time                      only answer with the time\n"
    "  stat                      cycles, bytes, greatest delay\n"
    "  quit\n";

static uint64_t wait_until_cycle;

/* With the board's time, so that a caller knows which reading lines are after its command. */
static void ok(void) { printf("ok %.3f\n", board_uptime_ms()); }

static bool input_exists(unsigned input) {
  if (input < BOARD_ANALOG_INPUTS) return true;
  printf("error: no analog input %u; there are 0 to %d\n", input, BOARD_ANALOG_INPUTS - 1);
  return false;
}

static bool in_range(const char *what, double value, double least, double greatest) {
  if (value >= least && value <= greatest) return true;
  printf("error: %s must be from %g to %g\n", what, least, greatest);
  return false;
}

/* Commands that change the board's inputs. False = the line is not one of them. */
static bool carry_out_input(const char *line) {
  unsigned input;
  double a, b, seconds;
  char rest;
  if (sscanf(line, "adc %u %lf %c", &input, &a, &rest) == 2) {
    if (!input_exists(input) || !in_range("the voltage in mV", a, 0, BOARD_REFERENCE_MV)) return true;
    board_set_analog(input, a, a, 0);
    ok();
  } else if (sscanf(line, "ramp %u %lf %lf %lf %c", &input, &a, &b, &seconds, &rest) == 4) {
    if (!input_exists(input) || !in_range("the first voltage in mV", a, 0, BOARD_REFERENCE_MV)) return true;
    if (!in_range("the last voltage in mV", b, 0, BOARD_REFERENCE_MV)) return true;
    if (!in_range("the time in s", seconds, 0, 86400)) return true;
    board_set_analog(input, a, b, seconds);
    ok();
  } else if (sscanf(line, "noise %u %lf %c", &input, &a, &rest) == 2) {
    if (!input_exists(input) || !in_range("the noise in mV", a, 0, 1000)) return true;
    board_set_analog_noise(input, a);
    ok();
  } else if (sscanf(line, "pulses %lf %c", &a, &rest) == 1) {
    if (!in_range("the pulse rate in Hz", a, 0, 10000)) return true;
    board_set_pulses(a);
    ok();
  } else if (sscanf(line, "bounce %lf %c", &a, &rest) == 1) {
    if (!in_range("the bounce in us", a, 0, 100000)) return true;
    board_set_bounce(a);
    ok();
  } else if (sscanf(line, "heater %u %lf %c", &input, &a, &rest) == 2) {
    if (!in_range("the zone", input, 1, BOARD_HEATERS) || !in_range("the share", a, 0, 1)) return true;
    board_set_heater(input, a);
    ok();
  } else {
    return false;
  }
  return true;
}

static void carry_out(const char *line, struct command_outcome *outcome, double late_ms) {
  double value;
  char rest;
  if (carry_out_input(line)) return;
  if (strcmp(line, "unplug") == 0) {
    terminal_unplug();
    ok();
  } else if (strcmp(line, "plug") == 0) {
    if (terminal_plug()) {
      ok();
    } else {
      puts("error: the cable could not be plugged in; see standard error");
    }
  } else if (strcmp(line, "reset") == 0) {
    board_reset();
    ok();
  } else if (strcmp(line, "hang") == 0) {
    board_hang();
    ok();
  } else if (sscanf(line, "speed %lf %c", &value, &rest) == 1) {
    if (!in_range("the speed", value, 0.01, 1000)) return;
    outcome->speed = value;
    ok();
  } else if (sscanf(line, "wait %lf %c", &value, &rest) == 1) {
    if (!in_range("the wait in s", value, 0, 1e6)) return;
    wait_until_cycle = board_cycle() + (uint64_t)(value * BOARD_HZ);
    ok();
  } else if (strcmp(line, "time") == 0) {
    ok();
  } else if (strcmp(line, "stat") == 0) {
    printf("ok %.3f cycles=%llu delivered=%llu lost=%llu late_ms=%.3f\n", board_uptime_ms(),
           (unsigned long long)board_cycle(), (unsigned long long)terminal_bytes_delivered(),
           (unsigned long long)terminal_bytes_lost(), late_ms);
  } else if (strcmp(line, "quit") == 0) {
    outcome->quit = true;
    ok();
  } else if (line[0] != 0 && line[0] != '#') {
    printf("error: no such command: %s\n", line);
  }
}

/* Append the available input to `pending`. True = standard input has ended. */
static bool read_input(char *pending, size_t capacity, size_t *length) {
  static bool ended;
  struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
  if (ended || *length >= capacity || poll(&input, 1, 0) <= 0) return ended;

  const ssize_t got = read(STDIN_FILENO, pending + *length, capacity - *length);
  if (got > 0) {
    *length += (size_t)got;
  } else if (got == 0 || (errno != EINTR && errno != EAGAIN)) {
    ended = true;
    if (*length > 0 && pending[*length - 1] != '\n') pending[(*length)++] = '\n'; /* a last line without a line end */
  }
  return ended;
}

void commands_poll(struct command_outcome *outcome, double late_ms) {
  static char pending[4096];
  static size_t length;
  const bool ended = read_input(pending, sizeof pending - 1, &length);

  while (!outcome->quit && board_cycle() >= wait_until_cycle) {
    char *end = memchr(pending, '\n', length);
    if (!end) {
      if (length == sizeof pending - 1) {
        puts("error: a command is too long");
        length = 0;
      }
      outcome->input_ended = ended;
      break;
    }
    *end = 0;
    carry_out(pending, outcome, late_ms);
    length -= (size_t)(end + 1 - pending);
    memmove(pending, end + 1, length);
  }
  fflush(stdout);
}
