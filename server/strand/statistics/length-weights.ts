/**
 * The length of strand that each sample stands for, mm: half the way to each neighbour. Readings come at even times, so
 * without it a slow stretch of the run would count more than a fast one of the same length.
 *
 * @param lengthMm positions of the samples, never falling
 * @param longestPitchMm a wider step between two samples is a gap in the data: no sample speaks for what lies in it
 */
export function lengthWeights(lengthMm: ArrayLike<number>, longestPitchMm = Number.POSITIVE_INFINITY): Float64Array {
  const weights = new Float64Array(lengthMm.length);
  for (let i = 1; i < lengthMm.length; i++) {
    const step = lengthMm[i]! - lengthMm[i - 1]!;
    if (step < 0) throw new RangeError(`sample ${i} lies ${-step} mm before the sample ahead of it`);
    if (!(step <= longestPitchMm)) continue;
    weights[i - 1]! += step / 2;
    weights[i]! += step / 2;
  }
  return weights;
}
