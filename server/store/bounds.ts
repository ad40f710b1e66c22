/**
 * Far more strand than any line makes, but a speed sent in µm/s counts 1e9 mm in eight hours, and such a run has to stay
 * readable. The fastest speed that a reading line may carry gets here in four months.
 */
export const LENGTH_MM_MAX = 1e12;
/** The last time that a `Date` can hold. */
export const TIME_MS_MAX = 8.64e15;
