/**
 * A column of a block: kind byte, header, one table entry a group of 128 readings (minimum, maximum, sum: the lowest
 * level of the summaries), then a byte-aligned stream a group, so that one reading is found by decoding 128.
 *
 *   allGaps   –
 *   constant  f64
 *   integers  scale u8 · base signed · step varint · groups [count] min range [sum] [length] · streams
 *   near      the same, with true min, max, sum as f64 and corrections in units of the last place
 *   raw       groups [count] finite f64 f64 f64 length · streams of f64
 *
 * value = (base + step × x) / 10^scale. [count] only where the column has gaps.
 */
export const KIND = { allGaps: 0, constant: 1, integers: 2, near: 3, raw: 4 } as const;

/** Added to the kind where some readings have no value. */
export const HAS_GAPS = 8;

/** Integers of a column span less than this; wider ones are kept raw. */
export const SPAN_MAX = 2 ** 28;

/** Rice parameter that says: all corrections of this group are 0. */
export const NO_CORRECTIONS = 255;

/** Groups of 128 readings in a column at most. */
export const GROUPS_MAX = 16;
