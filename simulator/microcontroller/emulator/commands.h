/*
 * The commands on standard input, one per line. The answer to each is one line on standard output: "ok MS ..." with the
 * emulated milliseconds since the board's last reset, or "error: ...".
 */
#ifndef COMMANDS_H
#define COMMANDS_H

#include <stdbool.h>

/* What main.c has to do after the commands so far. */
struct command_outcome {
  bool quit;
  bool input_ended; /* and all commands are done */
  double speed; /* emulated seconds per real second */
};

/* Read and execute the available commands without waiting. `late_ms` is reported by `stat`. */
void commands_poll(struct command_outcome *outcome, double late_ms);

extern const char commands_help[];

#endif
