/**
 * Whether this is the check before a release, `npm run check:long`. It also tries what takes long and hardly ever finds more
 * than the tests of every commit.
 */
export const IS_LONG_CHECK = process.env.STRANDWARD_CHECK === 'long';

/** How many of so many made-up cases to try: all of them before a release, otherwise the first `share` of them. */
export const tries = (all: number, share = 1 / 5): number => (IS_LONG_CHECK ? all : Math.ceil(all * share));

/** The cases to try of a table: all of them before a release, otherwise the first `most`. */
export const casesOf = <const T>(all: readonly T[], most: number): readonly T[] =>
  IS_LONG_CHECK ? all : all.slice(0, most);
