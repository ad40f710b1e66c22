import { UnknownTracker } from './absence-trackers.ts';
import type { GaugeNoise } from './gauge-noise.ts';
import { GaugeShift } from './gauge-shift.ts';
import type { ShiftDoubt } from './section.ts';
import type { StrandLimits } from './strand-limits.ts';
import type { RunSections } from './working-section.ts';

/** A blob this far beyond the limit must not be missed, mm. */
const BEYOND_MM = 0.03;
/**
 * With more noise than this share of its height, a blob of three readings can no longer be surely distinguished from noise: √3 · 4.5 ≈ 8
 * standard deviations, five for the proof and three for the readings that come out low.
 */
const NOISY_SHARE = 1 / 4.5;
/** Back below this share of that, the gauge is quiet again. */
const QUIET_SHARE = 0.8;
/** The noise changes slowly. */
const CHECK_EVERY = 4;
/** Noise that has grown is known once or twice so many readings later. */
const SINCE_EVERY = 16;
/** Axes that differ over so much strand differ for longer than any blob is. */
const DISAGREE_MM = 500;
/** A difference that has changed by this share replaces the one in use. */
const FOLLOW_SHARE = 0.1;

/** Where and when a gauge with too small a range first reached its end (`GaugeWatch`); NaN = it sees blobs. */
export interface BlindSince {
  readonly blindSinceMm: number;
  readonly blindSinceTimeMs: number;
}

/**
 * What makes all readings of a gauge doubtful rather than some: a range that ends too low, too much noise, a shift, two axes
 * that disagree. Strand that passed such a gauge counts as not measured, or its sections as not sure.
 */
export class GaugeDoubt {
  readonly #noise: GaugeNoise;
  readonly #shift = new GaugeShift();
  readonly #blind: UnknownTracker;
  readonly #noisy: UnknownTracker;
  readonly #shifted: UnknownTracker;
  #limits: StrandLimits;
  #readings = 0;
  /** Standard deviation of a reading, rounding included. */
  #scatterMm = 0;
  #noisySinceMm = Number.NaN;
  #noisySinceTimeMs = Number.NaN;
  /** Two of the last places, `SINCE_EVERY` readings apart. */
  #checkedMm = Number.NaN;
  #checkedTimeMs = Number.NaN;
  #earlierMm = Number.NaN;
  #earlierTimeMs = Number.NaN;
  #axesApartMm = 0;
  #axesInUseMm = 0;
  #lastMm = Number.NaN;
  /** Sections before were closed here. */
  #closedMm = Number.NEGATIVE_INFINITY;
  #closedTimeMs = Number.NEGATIVE_INFINITY;
  /** By how much readings may be off, mm, and why: each axis, and the mean of two. */
  shiftMm = 0;
  meanShiftMm = 0;
  shiftDoubt: ShiftDoubt = 'gaugeShifted';
  /** From where on. Axes drift apart slowly, so nothing before is said of them. */
  shiftSinceMm = Number.POSITIVE_INFINITY;

  constructor(sections: RunSections, noise: GaugeNoise, limits: StrandLimits) {
    this.#noise = noise;
    this.#limits = limits;
    this.#blind = new UnknownTracker(sections, 'gaugeBlind');
    this.#noisy = new UnknownTracker(sections, 'gaugeNoisy');
    this.#shifted = new UnknownTracker(sections, 'gaugeShifted');
  }

  setLimits(limits: StrandLimits): void {
    this.#limits = limits;
  }

  /** A measured reading. @returns whether `shiftMm` changed */
  step(
    timeMs: number,
    gaugeMm: number,
    diameterMm: number,
    outOfRoundMm: number,
    pitchMm: number,
    { blindSinceMm, blindSinceTimeMs }: BlindSince,
  ): boolean {
    if (this.#readings++ % CHECK_EVERY === 0) this.#checkNoise(timeMs, gaugeMm, pitchMm);
    let changed = this.#shift.step(timeMs, gaugeMm, diameterMm, this.#scatterMm, pitchMm);
    if (!Number.isNaN(outOfRoundMm)) changed = this.#followAxes(gaugeMm, outOfRoundMm) || changed;
    this.#lastMm = gaugeMm;
    const { shiftMm, sinceMm, sinceTimeMs } = this.#shift;
    this.#cover(this.#blind, blindSinceMm, blindSinceTimeMs, timeMs, gaugeMm, pitchMm);
    this.#cover(this.#noisy, this.#noisySinceMm, this.#noisySinceTimeMs, timeMs, gaugeMm, pitchMm);
    this.#cover(this.#shifted, shiftMm === 0 ? Number.NaN : sinceMm, sinceTimeMs, timeMs, gaugeMm, pitchMm);
    if (changed) this.#useShift();
    return changed;
  }

  /** A section of doubtful strand is open. */
  get coversStrand(): boolean {
    return !this.#blind.idle || !this.#noisy.idle || !this.#shifted.idle;
  }

  get isNoisy(): boolean {
    return !Number.isNaN(this.#noisySinceMm);
  }

  /** The next reading does not follow on the last one. */
  interrupt(): void {
    this.#shift.interrupt();
    this.#lastMm = Number.NaN;
  }

  /** Closes the sections, because strand is no longer made. */
  close(timeMs: number, gaugeMm: number): void {
    this.#closedMm = gaugeMm;
    this.#closedTimeMs = timeMs;
    this.#shift.forget();
    this.#axesApartMm = 0;
    this.#useShift();
    for (const tracker of [this.#blind, this.#noisy, this.#shifted]) tracker.end();
  }

  #cover(
    tracker: UnknownTracker,
    sinceMm: number,
    sinceTimeMs: number,
    timeMs: number,
    gaugeMm: number,
    pitchMm: number,
  ): void {
    if (Number.isNaN(sinceMm)) {
      tracker.pass(gaugeMm, pitchMm);
      return;
    }
    const fromMm = Math.max(sinceMm, this.#closedMm);
    tracker.noValue(fromMm, Math.max(sinceTimeMs, this.#closedTimeMs), gaugeMm, timeMs, pitchMm);
  }

  #checkNoise(timeMs: number, gaugeMm: number, pitchMm: number): void {
    const sigmaMm = this.#noise.sigmaMm(0, pitchMm);
    this.#scatterMm = Math.hypot(sigmaMm, this.#noise.roundingMm);
    const { hotendLimitMm, nominalMm } = this.#limits;
    const mostMm = NOISY_SHARE * (Math.max(0, hotendLimitMm - nominalMm) + BEYOND_MM);
    if (this.isNoisy) {
      if (sigmaMm < QUIET_SHARE * mostMm) this.#noisySinceMm = Number.NaN;
    } else if (this.#noise.cautiousSigmaMm(pitchMm) > mostMm) {
      // It has been for some readings when that is known.
      this.#noisySinceMm = this.#earlierMm;
      this.#noisySinceTimeMs = this.#earlierTimeMs;
    }
    if (this.#readings % SINCE_EVERY !== 1) return;
    [this.#earlierMm, this.#earlierTimeMs] = [this.#checkedMm, this.#checkedTimeMs];
    [this.#checkedMm, this.#checkedTimeMs] = [gaugeMm, timeMs];
  }

  /** A lasting difference beyond that of strand out of round. @returns whether it is another than the one in use */
  #followAxes(gaugeMm: number, outOfRoundMm: number): boolean {
    const advance = gaugeMm - this.#lastMm;
    if (advance > 0) this.#axesApartMm += (outOfRoundMm - this.#axesApartMm) * Math.min(1, (2 * advance) / DISAGREE_MM);
    return Math.abs(this.#lastingMm - this.#axesInUseMm) > FOLLOW_SHARE * this.#axesInUseMm;
  }

  /** Nothing says which of two axes is wrong: either may be by all of this; 0 = they agree. */
  get #lastingMm(): number {
    return this.#axesApartMm > 2 * this.#limits.toleranceMm ? this.#axesApartMm : 0;
  }

  #useShift(): void {
    const gauge = Math.abs(this.#shift.shiftMm);
    const axes = this.#lastingMm;
    this.#axesInUseMm = axes;
    this.shiftMm = Math.max(gauge, axes);
    this.meanShiftMm = Math.max(gauge, axes / 2);
    [this.shiftDoubt, this.shiftSinceMm] =
      gauge >= axes ? ['gaugeShifted', this.#shift.sinceMm] : ['axesDisagree', Number.POSITIVE_INFINITY];
  }
}
