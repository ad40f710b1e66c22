import { normalQuantile } from '../probability/distributions.ts';
import { type GaugeNoise, isOfGauge, NOISE_SPANS } from './gauge-noise.ts';

/** Chance of a false "sure" at the limit, all readings of a blob together. */
const RISK = 0.025;
/** The largest of this much strand is compared; the further a section goes beyond that, the less each reading may prove. */
const COMPARED_MM = 30;
const LONGEST_SPAN = 16;

/**
 * Whether strand is surely beyond a limit, by the decision rule of ISO 14253-1: beyond by more than the uncertainty of what
 * is compared. That is the largest of many means (of 1, 4 and 16 readings), and the largest of n noisy values lies above
 * the truth. So each gets its share of the risk, and the guard band g is
 *
 *     g = m + √(U² + (q − m)²)
 *
 * with m the median and q the upper limit of the largest noise, and U the uncertainty of the calibration, which no
 * repetition makes smaller.
 */
export class SurelyBeyond {
  readonly #noise: GaugeNoise;
  readonly #excess = new Float64Array(LONGEST_SPAN);
  #count = 0;
  /** Readings since the windows were emptied. */
  #inRow = 0;
  #sum4 = 0;
  #sum16 = 0;
  /** Furthest beyond the limit by more than the noise explains, mm, if the gauge is calibrated perfectly; −∞ = never. */
  #mostMm = Number.NEGATIVE_INFINITY;
  /** The same since the last `keep` or `drop`. */
  #hereMm = Number.NEGATIVE_INFINITY;

  constructor(noise: GaugeNoise) {
    this.#noise = noise;
  }

  /** A new section starts. */
  restart(): void {
    this.#count = 0;
    this.#mostMm = Number.NEGATIVE_INFINITY;
    this.drop();
  }

  /** The readings since the last call were strand. */
  keep(): void {
    this.#mostMm = Math.max(this.#mostMm, this.#hereMm);
  }

  /** The readings since the last call may have been wrong ones, so they prove nothing. */
  drop(): void {
    this.#hereMm = Number.NEGATIVE_INFINITY;
    this.#inRow = 0;
    this.#sum4 = 0;
    this.#sum16 = 0;
    this.#excess.fill(0);
  }

  /** The next reading of the section, beyond the limit by this much; negative = within. */
  add(excessMm: number, pitchMm: number): void {
    const ring = this.#excess;
    const at = this.#inRow & (LONGEST_SPAN - 1);
    this.#sum4 += excessMm - ring[(at - 4) & (LONGEST_SPAN - 1)]!;
    this.#sum16 += excessMm - ring[at]!;
    ring[at] = excessMm;
    this.#count++;
    this.#inRow++;
    this.#compare(0, excessMm, pitchMm);
    if (this.#inRow >= 4 && isOfGauge(1, pitchMm)) this.#compare(1, this.#sum4 / 4, pitchMm);
    if (this.#inRow >= 16 && isOfGauge(2, pitchMm)) this.#compare(2, this.#sum16 / 16, pitchMm);
  }

  /** Furthest beyond the limit that the readings of this section prove, mm; for `isSure` after a later section has started. */
  get evidenceMm(): number {
    return this.#mostMm;
  }

  /** @param uncertaintyMm of the calibration (k = 2), and whatever else shifts all readings alike */
  isSure(uncertaintyMm: number, evidenceMm = this.#mostMm): boolean {
    return evidenceMm > Math.hypot(uncertaintyMm, 2 * this.#noise.roundingMm);
  }

  /** Whether the readings since the last `keep` or `drop` would make it sure if all of them are right. */
  isSureHere(uncertaintyMm: number): boolean {
    return this.isSure(uncertaintyMm, this.#hereMm);
  }

  /** Solves the guard band for the uncertainty: beyond by x is sure for every U < √((x − m)² − (q − m)²). */
  #compare(level: number, excessMm: number, pitchMm: number): void {
    // It cannot prove more.
    if (!(excessMm > this.#hereMm)) return;
    const sigma = this.#noise.sigmaMm(level, pitchMm);
    const usual = pitchMm > 0 ? Math.max(1, COMPARED_MM / pitchMm) : 1;
    const n = Math.max(usual, this.#count ** 2 / usual);
    const beyondMedian = excessMm - sigma * largest(n, 0.5);
    const spread = sigma * (largest(n, RISK / NOISE_SPANS.length) - largest(n, 0.5));
    if (beyondMedian <= spread) return;
    this.#hereMm = Math.max(this.#hereMm, Math.sqrt(beyondMedian ** 2 - spread ** 2));
  }
}

const known = new Map<number, number>();

/** The largest of n standard normal values is above this with the given chance; n is rounded up to a power of two. */
function largest(n: number, chance: number): number {
  const doublings = Math.max(0, Math.ceil(Math.log2(n)));
  const key = doublings + chance;
  const found = known.get(key);
  if (found !== undefined) return found;
  const value = Math.max(0, normalQuantile(1 - chance / 2 ** doublings));
  known.set(key, value);
  return value;
}
