import { simulateRun } from './simulated-run.ts';
import type { StrandPlan, TrueLimits } from './strand-maker.ts';
import { StrandMaker } from './strand-maker.ts';

/** What a strand is like, for a look at whether made strand is like simulated strand. */
export interface Likeness {
  readonly sdMm: number;
  /** Of neighbouring readings. */
  readonly lag1: number;
  /** Standard deviation of the means of one metre each. */
  readonly metreSdMm: number;
}

const LENGTH_MM = 150_000;

/** The simulator's good run, and made strand of the same speed, rate and σ. */
export function likenesses(limits: TrueLimits): { readonly simulated: Likeness; readonly made: Likeness } {
  const run = simulateRun(3, 35, 50, LENGTH_MM, false);
  const simulated = likenessOf(run.gaugeMm, run.diameterMm);
  const plan: StrandPlan = {
    seed: 3,
    heldOut: false,
    lengthMm: LENGTH_MM,
    speedMmPerS: 35,
    readingsPerS: 50,
    meanMm: 1.75,
    sigmaMm: simulated.sdMm,
    offsetMm: 0,
    axes: 1,
    averaging: true,
    screwTurnS: 2.5,
    rollerMm: 157,
    glitchShare: 0,
    lumps: [],
    trend: null,
  };
  const strand = new StrandMaker(Math.ceil(LENGTH_MM / 0.7)).make(plan, limits);
  return { simulated, made: likenessOf(strand.gaugeMm, strand.diameterMm) };
}

function likenessOf(gaugeMm: Float64Array, diameterMm: Float64Array): Likeness {
  const n = diameterMm.length;
  const mean = diameterMm.reduce((sum, d) => sum + d, 0) / n;
  let square = 0;
  let product = 0;
  for (let i = 0; i < n; i++) {
    square += (diameterMm[i]! - mean) ** 2;
    if (i > 0) product += (diameterMm[i]! - mean) * (diameterMm[i - 1]! - mean);
  }
  const metres = new Map<number, { sum: number; count: number }>();
  for (let i = 0; i < n; i++) {
    const metre = Math.floor(gaugeMm[i]! / 1000);
    const cell = metres.get(metre) ?? { sum: 0, count: 0 };
    cell.sum += diameterMm[i]! - mean;
    cell.count++;
    metres.set(metre, cell);
  }
  const means = [...metres.values()].map(({ sum, count }) => sum / count);
  return {
    sdMm: Math.sqrt(square / n),
    lag1: product / square,
    metreSdMm: Math.sqrt(means.reduce((sum, m) => sum + m * m, 0) / means.length),
  };
}
