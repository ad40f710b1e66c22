/*
 * Runs the reference firmware on an emulated board and offers its serial output as a pseudo-terminal:
 *
 *   stdin commands --> voltages, pulses --> [ATmega328P, libsimavr] --> pseudo-terminal <-- LINK <-- reader
 *
 * in step with real time, a millisecond at a time.
 */
#include <errno.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "board.h"
#include "commands.h"
#include "terminal.h"

#define STEP_NS 1000000LL
/* After a longer pause of the machine the lost time is skipped, because a board would not send a burst either. */
#define GIVE_UP_NS 500000000LL

static volatile sig_atomic_t stop_asked;

static void on_signal(int number) {
  (void)number;
  stop_asked = 1;
}

static long long monotonic_ns(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return now.tv_sec * 1000000000LL + now.tv_nsec;
}

static void sleep_until(long long ns) {
  const struct timespec when = {ns / 1000000000LL, ns % 1000000000LL};
  while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &when, NULL) == EINTR && !stop_asked) {
  }
}

/* Run until `quit`, a signal, or (unless `stay`) the end of standard input. False = the processor has stopped. */
static bool run(bool stay) {
  struct command_outcome commands = {.quit = false, .input_ended = false, .speed = 1.0};
  double speed = commands.speed;
  double greatest_late_ms = 0.0;
  long long start_ns = monotonic_ns();
  double start_cycle = (double)board_cycle();

  for (long long step = 1; !stop_asked; step++) {
    const double seconds = (double)(step * STEP_NS) / 1e9;
    if (!board_run_until((uint64_t)(start_cycle + seconds * BOARD_HZ * speed))) {
      fprintf(stderr, "emulator: the processor has stopped (crash, or sleep with interrupts off)\n");
      return false;
    }
    terminal_flush();
    commands_poll(&commands, greatest_late_ms);
    if (commands.quit || (commands.input_ended && !stay)) return true;

    const long long due_ns = start_ns + step * STEP_NS;
    const long long late_ns = monotonic_ns() - due_ns;
    if ((double)late_ns / 1e6 > greatest_late_ms) greatest_late_ms = (double)late_ns / 1e6;
    if (late_ns < 0) sleep_until(due_ns);

    if (late_ns > GIVE_UP_NS || commands.speed != speed) {
      speed = commands.speed;
      start_ns = monotonic_ns();
      start_cycle = (double)board_cycle();
      step = 0;
    }
  }
  return true;
}

int main(int count, char **arguments) {
  const bool stay = count == 4 && strcmp(arguments[1], "--stay") == 0;
  if (count != 3 && !stay) {
    fprintf(stderr,
            "usage: emulator [--stay] FIRMWARE.elf LINK\n"
            "LINK becomes a symbolic link to the board's serial output. Ends with standard input, unless --stay is given.\n"
            "commands on standard input, one per line:\n%s",
            commands_help);
    return 2;
  }
  const char *firmware = arguments[count - 2];
  if (!terminal_choose_link(arguments[count - 1])) return 1;

  struct sigaction action;
  memset(&action, 0, sizeof action);
  action.sa_handler = on_signal;
  sigaction(SIGTERM, &action, NULL);
  sigaction(SIGINT, &action, NULL);
  signal(SIGPIPE, SIG_IGN);

  board_start(firmware, terminal_send);
  if (!terminal_plug()) return 1;
  printf("ready %s\n", terminal_device());
  fflush(stdout);

  const bool orderly = run(stay);
  terminal_unplug();
  return orderly ? 0 : 1;
}
