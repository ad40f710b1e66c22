/* Cause of the last reset. */
#ifndef RESET_CAUSE_H
#define RESET_CAUSE_H

/* Text for a note, in program memory (read with the _P functions). */
const char *reset_cause_P(void);

#endif
