export interface CusumOptions {
  readonly target: number;
  /** Slack K in the unit of the values: half the shift that should be found quickly; usually σ/2. */
  readonly allowance: number;
  /** Decision interval H in the unit of the values; usually 4σ or 5σ. */
  readonly decision: number;
}

export interface CusumChart {
  /** Sums of the excess above target + allowance and of the deficit below target − allowance; never below 0. */
  readonly high: Float64Array;
  readonly low: Float64Array;
  /** First value beyond the decision interval on either side, and the value at which the sum started to rise. */
  readonly signal: {
    readonly index: number;
    readonly side: 'high' | 'low';
    readonly since: number;
  } | null;
}

/**
 * Tabular CUSUM: S_H = max(0, x − (target + K) + S_H), S_L = max(0, (target − K) − x + S_L) (Montgomery & Runger, Applied
 * Statistics and Probability for Engineers, 16-10; NIST/SEMATECH e-Handbook 6.3.2.3). A gap (NaN) leaves the sums unchanged.
 */
export function cusumChart(values: ArrayLike<number>, options: CusumOptions): CusumChart {
  const { target, allowance, decision } = options;
  if (!(allowance >= 0)) throw new RangeError(`the allowance of a CUSUM cannot be ${allowance}`);
  if (!(decision > 0)) throw new RangeError(`the decision interval of a CUSUM cannot be ${decision}`);
  const high = new Float64Array(values.length);
  const low = new Float64Array(values.length);
  let signal: CusumChart['signal'] = null;
  let up = 0;
  let down = 0;
  let upSince = 0;
  let downSince = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isFinite(value)) {
      if (up === 0) upSince = i;
      if (down === 0) downSince = i;
      up = Math.max(0, value - (target + allowance) + up);
      down = Math.max(0, target - allowance - value + down);
    }
    high[i] = up;
    low[i] = down;
    if (signal === null && up > decision) signal = { index: i, side: 'high', since: upSince };
    else if (signal === null && down > decision) signal = { index: i, side: 'low', since: downSince };
  }
  return { high, low, signal };
}
