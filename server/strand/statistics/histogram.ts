export interface Histogram {
  /** One edge more than there are bins. A value on an edge belongs to the bin that begins there. */
  readonly edgesMm: Float64Array;
  /** Length of strand in each bin, mm. */
  readonly lengthsMm: Float64Array;
  readonly belowMm: number;
  readonly aboveMm: number;
}

/** Length of strand by diameter. Throws RangeError when the bounds are in the wrong order or `bins` is not 1 to 10,000. */
export function histogram(
  valuesMm: ArrayLike<number>,
  weightsMm: ArrayLike<number>,
  bounds: {
    readonly fromMm: number;
    readonly toMm: number;
    readonly bins: number;
  },
): Histogram {
  const { fromMm, toMm, bins } = bounds;
  if (!(fromMm < toMm)) throw new RangeError(`a histogram from ${fromMm} to ${toMm} mm has no width`);
  if (!Number.isInteger(bins) || bins < 1 || bins > 10_000)
    throw new RangeError(`a histogram cannot have ${bins} bins`);
  const lengthsMm = new Float64Array(bins);
  let belowMm = 0;
  let aboveMm = 0;
  const scale = bins / (toMm - fromMm);
  for (let i = 0; i < valuesMm.length; i++) {
    const value = valuesMm[i]!;
    const weight = weightsMm[i]!;
    if (!Number.isFinite(value)) continue;
    if (value < fromMm) belowMm += weight;
    else if (value >= toMm) aboveMm += weight;
    else lengthsMm[Math.min(bins - 1, Math.floor((value - fromMm) * scale))]! += weight;
  }
  const edgesMm = Float64Array.from({ length: bins + 1 }, (_, i) => fromMm + ((toMm - fromMm) * i) / bins);
  return { edgesMm, lengthsMm, belowMm, aboveMm };
}

/** How the measured length splits at two limits, as shares of it (0 to 1). A value on a limit is within. */
export interface ToleranceShares {
  readonly within: number;
  readonly below: number;
  readonly above: number;
  readonly measuredMm: number;
}

export function toleranceShares(
  valuesMm: ArrayLike<number>,
  weightsMm: ArrayLike<number>,
  lowerMm: number,
  upperMm: number,
): ToleranceShares {
  if (!(lowerMm < upperMm)) throw new RangeError(`the limits ${lowerMm} and ${upperMm} mm are in the wrong order`);
  let below = 0;
  let above = 0;
  let measuredMm = 0;
  for (let i = 0; i < valuesMm.length; i++) {
    const value = valuesMm[i]!;
    if (!Number.isFinite(value)) continue;
    measuredMm += weightsMm[i]!;
    if (value < lowerMm) below += weightsMm[i]!;
    else if (value > upperMm) above += weightsMm[i]!;
  }
  if (measuredMm === 0)
    return {
      within: Number.NaN,
      below: Number.NaN,
      above: Number.NaN,
      measuredMm,
    };
  return {
    within: (measuredMm - below - above) / measuredMm,
    below: below / measuredMm,
    above: above / measuredMm,
    measuredMm,
  };
}
