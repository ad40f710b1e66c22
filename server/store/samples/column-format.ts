/** Readings in a group: the unit that is decoded to find one reading, and that the lowest summaries sum up. */
export const GROUP = 256;

/**
 * A column of a block: kind byte, header, the length of each group, then a byte-aligned stream per group, so that one
 * reading is found by decoding one group.
 *
 *   allGaps   –
 *   constant  f64
 *   integers  scale u8 · base signed · step varint · groups [count] length · streams
 *   near      the same, with corrections in units of the last place after each stream
 *   raw       groups [count] length · streams of f64
 *
 * value = (base + step × x) / 10^scale. [count] only if the column has gaps; a group without values has no length.
 */
export const KIND = { allGaps: 0, constant: 1, integers: 2, near: 3, raw: 4 } as const;

/** Added to the kind if some readings have no value. */
export const HAS_GAPS = 8;

/** Integers of a column span less than this; wider ones are stored raw. */
export const SPAN_MAX = 2 ** 28;

/** Rice parameter that means: all corrections of this group are 0. */
export const NO_CORRECTIONS = 255;

/** Groups in a column at most. */
export const GROUPS_MAX = 32;
