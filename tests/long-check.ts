/**
 * Whether this is the check before a release, `npm run check:long`. It also tries what takes long and hardly ever finds more
 * than the tests of every commit.
 */
export const IS_LONG_CHECK = process.env.STRANDWARD_CHECK === 'long';
