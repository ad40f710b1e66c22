/** Waves above the stop band are damped by this, so that ±0.1 mm leaves ±0.01 µm. */
const DAMPING_DB = 80;
/** Kaiser & Schafer 1980, IEEE Trans. Acoust. 28: shape of the window and number of taps for a damping and a width. */
const SHAPE = 0.1102 * (DAMPING_DB - 8.7);
/**
 * Frequencies up to this share of half the new sampling rate pass; from as much above it on all are damped, so what folds
 * back when values are left out is beyond it.
 */
export const PASS_SHARE = 0.8;

/** Every `factor`-th value of an even series, with all waves too short for that damped first. NaN = not measured. */
export function decimate(values: Float64Array, factor: number): Float64Array {
  const { mean, centred } = centre(values);
  const taps = lowPassTaps(factor);
  const middle = (taps.length - 1) / 2;
  const kept = new Float64Array(Math.floor(values.length / factor));
  for (let k = 0; k < kept.length; k++) {
    const at = k * factor + (factor >> 1);
    let measured = 0;
    for (let i = k * factor; i < (k + 1) * factor; i++) if (Number.isFinite(values[i]!)) measured += 1;
    if (2 * measured < factor) {
      kept[k] = Number.NaN;
      continue;
    }
    let sum = 0;
    const from = Math.max(0, at - middle);
    const to = Math.min(values.length, at + middle + 1);
    for (let i = from; i < to; i++) sum += taps[i - at + middle]! * centred[i]!;
    kept[k] = mean + sum;
  }
  return kept;
}

/** A sinc under a Kaiser window, with a sum of 1. */
export function lowPassTaps(factor: number): Float64Array {
  const width = (2 * (1 - PASS_SHARE) * Math.PI) / factor;
  const middle = Math.ceil((DAMPING_DB - 8) / (2.285 * width) / 2);
  const taps = Float64Array.from({ length: 2 * middle + 1 }, (_, i) => {
    const x = (i - middle) / factor;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return sinc * besselI0(SHAPE * Math.sqrt(1 - ((i - middle) / middle) ** 2));
  });
  const sum = taps.reduce((all, tap) => all + tap, 0);
  return taps.map((tap) => tap / sum);
}

/** Modified Bessel function of the first kind, order 0, by its series. */
function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > 1e-17 * sum; k++) {
    term *= (x / 2 / k) ** 2;
    sum += term;
  }
  return sum;
}

/** Gaps are filled with the mean: they lower waves, but create none. */
function centre(values: Float64Array): { readonly mean: number; readonly centred: Float64Array } {
  let sum = 0;
  let count = 0;
  for (const value of values) {
    if (!Number.isFinite(value)) continue;
    sum += value;
    count += 1;
  }
  const mean = count === 0 ? 0 : sum / count;
  return { mean, centred: values.map((value) => (Number.isFinite(value) ? value - mean : 0)) };
}
