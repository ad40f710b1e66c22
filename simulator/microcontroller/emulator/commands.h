/*
 * The commands on standard input, one a line. Each is answered by one line on standard output: "ok MS ..." with the
 * emulated milliseconds since the board's last reset, or "error: ...".
 */
#ifndef COMMANDS_H
#define COMMANDS_H

#include <stdbool.h>

/* What main.c has to do after the commands that have come so far. */
struct command_outcome {
  bool quit;
  bool input_ended; /* and nothing of it is left to do */
  double speed; /* emulated seconds a real second */
};

/* Reads and carries out what has come, without waiting. `late_ms` is reported by `stat`. */
void commands_poll(struct command_outcome *outcome, double late_ms);

extern const char commands_help[];

#endif
