export interface LombScargle {
  /** Cycles a unit of `at`. */
  readonly frequency: Float64Array;
  /**
   * Share of the variance that a wave of that frequency explains, 0 to 1 (2/N times Scargle's power over the variance).
   */
  readonly share: Float64Array;
  readonly count: number;
}

/**
 * Periodogram of unevenly spaced values (Lomb 1976, Astrophys. Space Sci. 39; Scargle 1982, Astrophys. J. 263): for each
 * frequency the least-squares fit of a sine and a cosine, shifted so that both are independent. One pass of sines and
 * cosines a frequency, so it is for some thousand values; a whole run is resampled instead.
 *
 * @param values NaN = left out; their mean is taken off
 * @param frequency where to look, cycles a unit of `at`, above zero
 */
export function lombScargle(
  at: ArrayLike<number>,
  values: ArrayLike<number>,
  frequency: ArrayLike<number>,
): LombScargle {
  if (at.length !== values.length) throw new RangeError(`${at.length} positions do not fit ${values.length} values`);
  const x: number[] = [];
  const y: number[] = [];
  for (let i = 0; i < at.length; i++) {
    if (!Number.isFinite(values[i]!)) continue;
    x.push(at[i]!);
    y.push(values[i]!);
  }
  const mean = y.reduce((sum, value) => sum + value, 0) / y.length;
  const sumSquares = y.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  const share = new Float64Array(frequency.length);
  const cos = new Float64Array(x.length);
  const sin = new Float64Array(x.length);
  for (let k = 0; k < frequency.length; k++) {
    const omega = 2 * Math.PI * frequency[k]!;
    if (!(omega > 0)) throw new RangeError(`a wave cannot have the frequency ${frequency[k]}`);
    let s2 = 0;
    let c2 = 0;
    for (let i = 0; i < x.length; i++) {
      const c = Math.cos(omega * x[i]!);
      const s = Math.sin(omega * x[i]!);
      cos[i] = c;
      sin[i] = s;
      s2 += 2 * s * c;
      c2 += c * c - s * s;
    }
    const tau = Math.atan2(s2, c2) / 2;
    const ct = Math.cos(tau);
    const st = Math.sin(tau);
    let yc = 0;
    let ys = 0;
    let cc = 0;
    let ss = 0;
    for (let i = 0; i < x.length; i++) {
      const c = cos[i]! * ct + sin[i]! * st;
      const s = sin[i]! * ct - cos[i]! * st;
      yc += (y[i]! - mean) * c;
      ys += (y[i]! - mean) * s;
      cc += c * c;
      ss += s * s;
    }
    const explained = (cc > 1e-12 ? (yc * yc) / cc : 0) + (ss > 1e-12 ? (ys * ys) / ss : 0);
    share[k] = sumSquares > 0 ? explained / sumSquares : 0;
  }
  return { frequency: Float64Array.from(frequency), share, count: x.length };
}

/**
 * Chance that white noise shows a share this high somewhere among `independent` frequencies: 1 − (1 − P)^M with
 * P = (1 − share)^((N − 3)/2) for values whose mean was fitted (Baluev 2008, MNRAS 385, for this normalisation).
 *
 * @param independent about (highest frequency looked at) × (length of the series)
 */
export function falseAlarmProbability(share: number, count: number, independent: number): number {
  if (!(share > 0)) return 1;
  if (share >= 1) return 0;
  const one = (1 - share) ** ((count - 3) / 2);
  return -Math.expm1(independent * Math.log1p(-one));
}
