/**
 * The length of strand that each sample represents, mm: half the distance to each neighbour. Readings are evenly spaced in
 * time, so without weights a slow stretch would count more than a fast one of the same length.
 *
 * @param lengthMm positions of the samples, never falling
 * @param longestPitchMm a wider step is a gap in the data, which no sample represents
 */
export function lengthWeights(lengthMm: ArrayLike<number>, longestPitchMm = Number.POSITIVE_INFINITY): Float64Array {
  const weights = new Float64Array(lengthMm.length);
  for (let i = 1; i < lengthMm.length; i++) {
    const step = lengthMm[i]! - lengthMm[i - 1]!;
    if (step < 0) throw new RangeError(`sample ${i} is ${-step} mm before the previous sample`);
    if (!(step <= longestPitchMm)) continue;
    weights[i - 1]! += step / 2;
    weights[i]! += step / 2;
  }
  return weights;
}
