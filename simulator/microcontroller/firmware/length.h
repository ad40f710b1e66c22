/* Strand length and speed from the pulses of a measuring wheel. */
#ifndef LENGTH_H
#define LENGTH_H

#include <stdint.h>

struct length_reading {
  uint32_t mm;         /* whole millimetres since reset; wraps at 2^32 */
  uint16_t um;         /* micrometres in addition, 0..999 */
  float speed_mm_per_s;
};

void length_start(void);

/* Add the pulses since the last call. To be called once per line. */
struct length_reading length_read(void);

#endif
