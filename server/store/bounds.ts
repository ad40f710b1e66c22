/** A thousand kilometres of strand: far more than any line makes in a run. */
export const LENGTH_MM_MAX = 1e9;
/** The last time that a `Date` can hold. */
export const TIME_MS_MAX = 8.64e15;
