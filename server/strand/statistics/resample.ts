/** A quantity at even steps along the strand, or along time. */
export interface EvenSeries {
  /** Start of cell 0; cell i covers from + i·step to from + (i + 1)·step. */
  readonly from: number;
  readonly step: number;
  /** Mean of each cell; NaN where less than half of the cell was measured. */
  readonly values: Float64Array;
}

/**
 * Resamples unevenly spaced samples on an even grid. Samples are joined by straight lines, and each cell gets the mean of
 * the line over the cell. Cells wider than the sample pitch therefore average by length, narrower ones interpolate.
 *
 * @param positions never falling (mm along the strand, or s)
 * @param values NaN = not measured; no line is drawn across it
 * @param step width of a cell, in the unit of `positions`
 * @param longestGap two samples further apart than this are not joined
 */
export function resampleEvenly(
  positions: ArrayLike<number>,
  values: ArrayLike<number>,
  step: number,
  longestGap = Number.POSITIVE_INFINITY,
): EvenSeries {
  if (!(step > 0) || !Number.isFinite(step)) throw new RangeError(`the step of a grid must be above zero, not ${step}`);
  if (positions.length !== values.length)
    throw new RangeError(`${positions.length} positions do not fit ${values.length} values`);
  if (positions.length < 2) return { from: positions[0] ?? 0, step, values: new Float64Array(0) };
  const from = positions[0]!;
  const cells = Math.floor((positions[positions.length - 1]! - from) / step + 1e-9);
  const sums = new Float64Array(cells);
  const covered = new Float64Array(cells);

  for (let i = 1; i < positions.length; i++) {
    const left = positions[i - 1]!;
    const right = positions[i]!;
    const width = right - left;
    if (width < 0) throw new RangeError(`sample ${i} is ${-width} before the previous sample`);
    const first = values[i - 1]!;
    const rise = values[i]! - first;
    if (width > longestGap || !Number.isFinite(rise)) continue;
    let x = left;
    for (let cell = Math.floor((left - from) / step); cell < cells && x < right; cell++) {
      const end = Math.min(right, from + (cell + 1) * step);
      const part = end - x;
      sums[cell]! += part * (first + (rise * ((x + end) / 2 - left)) / width);
      covered[cell]! += part;
      x = end;
    }
  }
  for (let cell = 0; cell < cells; cell++) {
    sums[cell] = covered[cell]! < step / 2 ? Number.NaN : sums[cell]! / covered[cell]!;
  }
  return { from, step, values: sums };
}
