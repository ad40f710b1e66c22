/** Lengths over which the level may wander, in points; the longest is a random walk for a series of a hundred points. */
const WANDERS = [1, 2, 4, 8, 16, 32, 64];
/** Variance of single points beside the wander, in shares of that by which the wander moves from point to point. */
const NOISES = [0, 0.3, 1, 3, 8, 24, 64];

/** Noise alone, or a wander with this correlation of neighbours and this much noise beside it; the wander's variance is 1. */
interface InControl {
  readonly phi: number;
  readonly noise: number;
}

const IN_CONTROL: readonly InControl[] = [
  { phi: 0, noise: 0 },
  ...WANDERS.flatMap((points) => {
    const phi = Math.exp(-1 / points);
    return NOISES.map((share) => ({ phi, noise: share * (1 - phi * phi) }));
  }),
];

/**
 * A wander has two parameters more than noise alone, and fits any series a little better for them: two units each (Akaike
 * 1974, IEEE Trans. Autom. Control 19).
 */
const WANDER_CHARGE = 4;
/** Sums of squares this small, as a share of all, are rounding errors. */
const ROUNDING = 1e-12;

/**
 * How much better a change of the level explains a series than wander about a constant level does: twice the logarithm of
 * the likelihood ratio. A wander looks like a change to any test that takes its correlation for known, so each side has the
 * wander that suits it best: a first-order autoregression plus independent noise, fast or slow, up to a random walk.
 *
 * The likelihoods follow from the innovations of a Kalman filter, with level and change fitted by generalised least squares
 * and the scale by maximum likelihood (Harvey 1989, Forecasting, Structural Time Series Models and the Kalman Filter, 3.4
 * and 7.3; from memory). The place of the change is chosen from the same data, so its limit comes from simulation and not from χ².
 *
 * @param values evenly spaced; means of about a hundred lengths or fewer
 * @param shape of the change, on any scale: such as 0 before a step and 1 after it
 */
export function changeEvidence(values: ArrayLike<number>, shape: ArrayLike<number>): number {
  let without = Number.NEGATIVE_INFINITY;
  let withChange = Number.NEGATIVE_INFINITY;
  for (const model of IN_CONTROL) {
    const fit = likelihoods(values, shape, model);
    const charge = model.phi > 0 ? WANDER_CHARGE : 0;
    without = Math.max(without, fit.without - charge);
    withChange = Math.max(withChange, fit.withChange - charge);
  }
  // Equal values have no likelihood, and nothing to explain.
  return withChange > without ? withChange - without : 0;
}

/** Twice the logarithms of both likelihoods, but for a common constant. */
function likelihoods(
  values: ArrayLike<number>,
  shape: ArrayLike<number>,
  { phi, noise }: InControl,
): { readonly without: number; readonly withChange: number } {
  const n = values.length;
  const moved = 1 - phi * phi;
  let variance = 1;
  // What the filter expects of the values, of a constant level of 1 and of the shape: all three take the same filter.
  let [y, c, s] = [0, 0, 0];
  let [yy, yc, ys, cc, cs, ss] = [0, 0, 0, 0, 0, 0];
  let logarithms = 0;
  for (let i = 0; i < n; i++) {
    const total = variance + noise;
    const dy = values[i]! - values[0]! - y;
    const dc = 1 - c;
    const ds = shape[i]! - s;
    yy += (dy * dy) / total;
    yc += (dy * dc) / total;
    ys += (dy * ds) / total;
    cc += (dc * dc) / total;
    cs += (dc * ds) / total;
    ss += (ds * ds) / total;
    logarithms += Math.log(total);
    const gain = variance / total;
    y = phi * (y + gain * dy);
    c = phi * (c + gain * dc);
    s = phi * (s + gain * ds);
    variance = phi * phi * variance * (1 - gain) + moved;
  }
  const squares = yy - (yc * yc) / cc;
  const across = ys - (yc * cs) / cc;
  const changed = squares - (across * across) / (ss - (cs * cs) / cc);
  const likelihood = (sum: number) => -n * Math.log(Math.max(sum, ROUNDING * yy) / n) - logarithms;
  return { without: likelihood(squares), withChange: likelihood(changed) };
}
