/* Why the processor started. */
#ifndef RESET_CAUSE_H
#define RESET_CAUSE_H

/* Words for a note line, in program memory (read with the _P functions). */
const char *reset_cause_P(void);

#endif
