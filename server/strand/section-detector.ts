import { LostTracker, UnknownTracker } from './absence-trackers.ts';
import { hidingGapMm } from './blindness.ts';
import { BlobAndNeckTracker, mergeGapMm } from './blob-and-neck-tracker.ts';
import type { StrandSample } from './excursion.ts';
import { type BlindSince, GaugeDoubt } from './gauge-doubt.ts';
import { GaugeNoise } from './gauge-noise.ts';
import { LongRunTracker } from './long-run-tracker.ts';
import type { MeasuredSection } from './section.ts';
import type { StrandLimits } from './strand-limits.ts';
import { StrandWindow } from './strand-window.ts';
import { RunSections } from './working-section.ts';

/** What accompanies a sample. One object may be reused for all samples. */
export interface SampleContext extends BlindSince {
  /** Strand that passed unmeasured just before this sample, mm; 0 normally. */
  gapMm: number;
  /** |dx − dy|, mm; NaN with a gauge of one axis. */
  outOfRoundMm: number;
  /** NaN = unknown. */
  speedMmPerS: number;
  /** Where and when the reading of a frozen gauge stopped changing (`GaugeWatch`); NaN = not frozen. */
  frozenSinceMm: number;
  frozenSinceTimeMs: number;
  blindSinceMm: number;
  blindSinceTimeMs: number;
  /** The gauge is at the end of its range, below the limit: the strand may be any thickness above the reading. */
  mayBeBeyond: boolean;
}

/** Context of a one-axis sample without a gap, at unknown speed. */
export function plainContext(): SampleContext {
  return {
    gapMm: 0,
    outOfRoundMm: Number.NaN,
    speedMmPerS: Number.NaN,
    frozenSinceMm: Number.NaN,
    frozenSinceTimeMs: Number.NaN,
    blindSinceMm: Number.NaN,
    blindSinceTimeMs: Number.NaN,
    mayBeBeyond: false,
  };
}

/** Raised with every change that may give other sections for the same readings; stored results are then recalculated. */
export const DETECTOR_VERSION = 10;

const PITCH_SHARE = 1 / 32;
/** After this many samples in the same place the strand stands still, and says nothing about their usual distance. */
const STANDS_AFTER = 32;
/** The diameter of the surrounding strand is averaged over this much strand, or this many samples if they are longer. */
const BASELINE_MM = 10;
const BASELINE_SAMPLES = 8;

/**
 * Turns samples into sections, one sample at a time, so the result does not depend on how they are batched.
 *
 * ```
 * sample ─┬─ gap? no value? frozen? ──── UnknownTracker
 *         ├─ can the gauge be believed? ─ GaugeDoubt
 *         ├─ below strandPresent ─────── LostTracker
 *         ├─ larger axis ─────────────── BlobAndNeckTracker: blob   (hotend limit)
 *         ├─ mean diameter ───────────── BlobAndNeckTracker: neck   (least feedable)
 *         └─ StrandWindow: 20 mm mean ─┬ LongRunTracker out of tolerance, above and below
 *                                      └ LongRunTracker out of round (with two axes)
 * ```
 *
 * A blob is judged by the larger of two axes, because the bore must pass the thicker one.
 */
export class SectionDetector {
  readonly #sections: RunSections;
  readonly #blob: BlobAndNeckTracker;
  readonly #neck: BlobAndNeckTracker;
  readonly #above: LongRunTracker;
  readonly #below: LongRunTracker;
  readonly #outOfRound: LongRunTracker;
  readonly #unknown: UnknownTracker;
  readonly #lost: LostTracker;
  readonly #window = new StrandWindow();
  readonly #noise = new GaugeNoise();
  readonly #doubt: GaugeDoubt;
  // Reused for every sample, for speed.
  readonly #sample: StrandSample = {
    timeMs: 0,
    gaugeMm: 0,
    diameterMm: 0,
    baselineMm: 0,
    pitchMm: Number.NaN,
    outOfRoundMm: Number.NaN,
    sigmaMm: 0,
    isNoisy: false,
    averagedMm: 0,
  };
  #limits: StrandLimits;
  #pitchMm = Number.NaN;
  #pitchMs = Number.NaN;
  /** Samples in a row in the same place. */
  #standing = 0;
  #baselineMm = Number.NaN;
  #lastMm = Number.NaN;
  #lastTimeMs = Number.NaN;
  #lastDiameterMm = Number.NaN;
  /** The last sample with a value, or without strand. */
  #valueMm = Number.NaN;
  #valueTimeMs = Number.NaN;
  /** Where measuring last started. */
  #startMm = Number.NaN;
  #startTimeMs = Number.NaN;
  #interrupted = true;

  constructor(limits: StrandLimits, nextOrdinal = 1) {
    const sections = new RunSections(nextOrdinal);
    this.#limits = limits;
    this.#sections = sections;
    this.#blob = new BlobAndNeckTracker('blob', sections, this.#noise);
    this.#neck = new BlobAndNeckTracker('neck', sections, this.#noise);
    this.#above = new LongRunTracker('offTolerance', 1, sections, true);
    this.#below = new LongRunTracker('offTolerance', -1, sections, true);
    this.#outOfRound = new LongRunTracker('outOfRound', 1, sections, false);
    this.#unknown = new UnknownTracker(sections);
    this.#doubt = new GaugeDoubt(sections, this.#noise, limits);
    this.#lost = new LostTracker(sections);
    this.setLimits(limits);
  }

  /** Usual distance between two samples, mm; NaN before the second. */
  get pitchMm(): number {
    return this.#pitchMm;
  }

  /** The readings prove nothing at present: the gauge has shifted, is too noisy, or its range ends too low. */
  get isGaugeDoubted(): boolean {
    return this.#doubt.coversStrand;
  }

  /** Lone samples taken for glitches of the gauge; they made no section. */
  get glitches(): number {
    return this.#blob.glitches + this.#neck.glitches;
  }

  /** Reserves an ordinal for a section that was found elsewhere. */
  takeOrdinal(): number {
    return this.#sections.takeOrdinal();
  }

  /** Judges later samples against these limits; open sections stay open. */
  setLimits(limits: StrandLimits): void {
    const { nominalMm, toleranceMm, gaugeUncertaintyMm: u } = limits;
    const longerThanMm = limits.offToleranceLengthMm;
    // A tenth of the tolerance, or the gauge's uncertainty, keeps noise from splitting a long run.
    const hysteresis = Math.max(u, toleranceMm / 10);
    this.#limits = limits;
    this.#unknown.setLimit(hidingGapMm(limits));
    this.#doubt.setLimits(limits);
    this.#blob.setLimit(limits.hotendLimitMm, u);
    this.#neck.setLimit(limits.smallestFeedableMm, u);
    this.#above.setLimit(nominalMm + toleranceMm, u, hysteresis, longerThanMm);
    this.#below.setLimit(nominalMm - toleranceMm, u, hysteresis, longerThanMm);
    // A round gauge error cancels in dx − dy, but each axis has its own: √2 U.
    this.#outOfRound.setLimit(2 * toleranceMm, Math.SQRT2 * u, hysteresis, longerThanMm);
  }

  /**
   * Adds one sample. `diameterMm` NaN = no value; `gaugeMm` must not fall. Returns the sections that it opened, made sure,
   * raised to a new peak or closed; always the same empty list where there are none.
   */
  step(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): readonly MeasuredSection[] {
    const advance = gaugeMm - this.#lastMm;
    const gapMm = context.gapMm;
    if (gapMm > 0) this.#gap(timeMs, gaugeMm, diameterMm, context);
    else if (advance >= 0) this.#learnPitch(advance, timeMs - this.#lastTimeMs);
    if (Number.isNaN(this.#valueMm)) {
      this.#valueMm = gaugeMm;
      this.#valueTimeMs = timeMs;
    }

    if (diameterMm < this.#limits.strandPresentMm) this.#absent(timeMs, gaugeMm, diameterMm);
    else if (Number.isNaN(diameterMm)) this.#noValue(timeMs, gaugeMm);
    else if (!Number.isNaN(context.frozenSinceMm)) this.#frozen(timeMs, gaugeMm, context);
    else this.#measured(timeMs, gaugeMm, diameterMm, context);

    this.#lastMm = gaugeMm;
    this.#lastTimeMs = timeMs;
    if (!Number.isNaN(diameterMm)) this.#lastDiameterMm = diameterMm;
    return this.#sections.takeChanged();
  }

  /** The open sections, which end at the strand in the gauge. */
  open(): readonly MeasuredSection[] {
    return this.#sections.open();
  }

  /** Closes all sections at the end of the run; returns those that changed. */
  close(timeMs: number): readonly MeasuredSection[] {
    if (this.#lost.lost) this.#lost.stillLost(timeMs, this.#lastMm);
    this.#interrupt(false);
    this.#unknown.end();
    this.#lost.end();
    this.#doubt.close(this.#lastTimeMs, this.#lastMm);
    this.#useShift();
    return this.#sections.takeChanged();
  }

  #learnPitch(advanceMm: number, durationMs: number): void {
    this.#standing = advanceMm > 0 ? 0 : this.#standing + 1;
    if (this.#standing > STANDS_AFTER) return;
    // 0 = the strand has not moved yet, or its length is not known.
    const isFirst = !(this.#pitchMm > 0);
    this.#pitchMm = isFirst ? advanceMm : this.#pitchMm + (advanceMm - this.#pitchMm) * PITCH_SHARE;
    this.#pitchMs = isFirst ? durationMs : this.#pitchMs + (durationMs - this.#pitchMs) * PITCH_SHARE;
  }

  #gap(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): void {
    const { gapMm, speedMmPerS } = context;
    if (this.#lost.lost) {
      // Lost before the gap and after it, so lost in between.
      if (!(diameterMm >= this.#limits.strandPresentMm)) return;
      this.#lost.end();
    }
    if (gapMm > mergeGapMm(this.#pitchMm)) this.#interrupt(false);
    // After a restart of the service the previous sample is unknown; only the strand that passed since is known.
    const fromTimeMs = Number.isNaN(this.#lastTimeMs)
      ? timeMs - (speedMmPerS > 0 ? (1000 * gapMm) / speedMmPerS : 0)
      : this.#lastTimeMs;
    this.#unknown.gap(fromTimeMs, timeMs, gapMm, gaugeMm, this.#pitchMm);
  }

  #noValue(timeMs: number, gaugeMm: number): void {
    if (this.#lost.lost) {
      this.#lost.stillLost(timeMs, gaugeMm);
      this.#valueMm = gaugeMm;
      this.#valueTimeMs = timeMs;
      return;
    }
    this.#unknown.noValue(this.#valueMm, this.#valueTimeMs, gaugeMm, timeMs, this.#pitchMm);
    if (gaugeMm - this.#valueMm > mergeGapMm(this.#pitchMm)) this.#interrupt(false);
  }

  /** The repeated value is not a measurement, from its first occurrence on. */
  #frozen(timeMs: number, gaugeMm: number, { frozenSinceMm, frozenSinceTimeMs }: SampleContext): void {
    this.#interrupt(false);
    if (frozenSinceMm < this.#valueMm) {
      this.#valueMm = frozenSinceMm;
      this.#valueTimeMs = frozenSinceTimeMs;
    }
    this.#noValue(timeMs, gaugeMm);
  }

  #absent(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const becameLost = this.#lost.absent(
      timeMs,
      gaugeMm,
      diameterMm,
      this.#crossedMm(gaugeMm, diameterMm),
      this.#crossedTimeMs(timeMs, diameterMm),
    );
    if (becameLost) this.#interrupt(true);
    if (this.#lost.lost) {
      this.#valueMm = gaugeMm;
      this.#valueTimeMs = timeMs;
    } else this.#noValue(timeMs, gaugeMm);
  }

  #measured(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): void {
    const { outOfRoundMm } = context;
    const pitch = this.#pitchMm;
    if (!this.#lost.idle)
      this.#lost.present(gaugeMm, this.#crossedMm(gaugeMm, diameterMm), this.#crossedTimeMs(timeMs, diameterMm), pitch);
    if (this.#valueMm !== this.#lastMm) this.#unknown.noValue(this.#valueMm, this.#valueTimeMs, gaugeMm, timeMs, pitch);
    else if (!this.#unknown.idle) this.#unknown.pass(gaugeMm, pitch);

    const oneAxis = Number.isNaN(outOfRoundMm);
    const seen = oneAxis ? diameterMm : diameterMm + outOfRoundMm / 2;
    const largest = context.mayBeBeyond ? Math.max(seen, this.#limits.hotendLimitMm) : seen;
    const beyondBlob = this.#blob.isBeyond(largest);
    const beyondNeck = this.#neck.isBeyond(diameterMm);
    this.#noise.step(diameterMm);
    if (this.#doubt.step(timeMs, gaugeMm, diameterMm, outOfRoundMm, pitch, context)) this.#useShift();
    const stepsBlob = beyondBlob || !this.#blob.idle;
    const stepsNeck = beyondNeck || !this.#neck.idle;
    if (stepsBlob || stepsNeck) this.#describe(timeMs, gaugeMm, outOfRoundMm);
    if (stepsBlob) this.#stepTracker(this.#blob, largest);
    else this.#blob.pass(timeMs, gaugeMm, largest);
    if (stepsNeck) this.#stepTracker(this.#neck, diameterMm);
    else this.#neck.pass(timeMs, gaugeMm, diameterMm);
    if (!beyondBlob && !beyondNeck) this.#follow(diameterMm, gaugeMm);

    if (this.#interrupted) {
      this.#interrupted = false;
      this.#startMm = gaugeMm;
      this.#startTimeMs = timeMs;
    }
    const window = this.#window;
    if (window.add(timeMs, gaugeMm, diameterMm, outOfRoundMm)) {
      const { centreTimeMs: atMs, centreMm, meanMm, meanOutOfRoundMm, spanMm } = window;
      const noiseMm = this.#noise.sigmaOfMeanMm(spanMm, pitch);
      const [startMm, startMs] = [this.#startMm, this.#startTimeMs];
      this.#above.step(atMs, centreMm, meanMm, startMm, startMs, noiseMm, spanMm);
      this.#below.step(atMs, centreMm, meanMm, startMm, startMs, noiseMm, spanMm);
      // The difference of two axes scatters by twice as much as their mean.
      if (!Number.isNaN(meanOutOfRoundMm))
        this.#outOfRound.step(atMs, centreMm, meanOutOfRoundMm, startMm, startMs, 2 * noiseMm, spanMm);
    }
    this.#valueMm = gaugeMm;
    this.#valueTimeMs = timeMs;
  }

  /** A gauge that shifted may read too little as well as too much: the strand before may be what was read wrong. */
  #useShift(): void {
    const { shiftMm, meanShiftMm, shiftDoubt, shiftSinceMm } = this.#doubt;
    this.#blob.setShift(shiftMm, shiftDoubt, shiftSinceMm);
    this.#neck.setShift(meanShiftMm, shiftDoubt, shiftSinceMm);
    this.#above.setShift(meanShiftMm, shiftDoubt);
    this.#below.setShift(meanShiftMm, shiftDoubt);
  }

  /** Everything about a sample but its diameter, which differs between blobs and necks. */
  #describe(timeMs: number, gaugeMm: number, outOfRoundMm: number): void {
    const sample = this.#sample;
    const { nominalMm, gaugeApertureMm = 0, gaugeAveragingMs = 0 } = this.#limits;
    sample.timeMs = timeMs;
    sample.gaugeMm = gaugeMm;
    sample.baselineMm = Number.isNaN(this.#baselineMm) ? nominalMm : this.#baselineMm;
    sample.pitchMm = this.#pitchMm;
    sample.outOfRoundMm = outOfRoundMm;
    sample.sigmaMm = this.#noise.sigmaMm(0, this.#pitchMm);
    sample.isNoisy = this.#doubt.isNoisy;
    const mmPerMs = this.#pitchMs > 0 ? this.#pitchMm / this.#pitchMs : 0;
    sample.averagedMm = gaugeApertureMm + mmPerMs * gaugeAveragingMs;
  }

  #stepTracker(tracker: BlobAndNeckTracker, diameterMm: number): void {
    this.#sample.diameterMm = diameterMm;
    tracker.step(this.#sample);
  }

  #follow(diameterMm: number, gaugeMm: number): void {
    if (Number.isNaN(this.#baselineMm)) {
      this.#baselineMm = diameterMm;
      return;
    }
    const advance = gaugeMm - this.#valueMm;
    const share = Math.min(1 / BASELINE_SAMPLES, advance / BASELINE_MM);
    this.#baselineMm += (diameterMm - this.#baselineMm) * share;
  }

  /** Measuring stopped after the last sample with a value. */
  #interrupt(lost: boolean): void {
    if (this.#interrupted) return;
    this.#interrupted = true;
    this.#blob.interrupt(lost);
    this.#neck.interrupt(lost);
    this.#noise.interrupt();
    this.#doubt.interrupt();
    this.#above.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#below.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#outOfRound.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#window.reset();
    this.#baselineMm = Number.NaN;
  }

  /** Where the diameter crossed the presence limit between the last sample and this one. */
  #crossedMm(gaugeMm: number, diameterMm: number): number {
    if (Number.isNaN(this.#lastMm)) return gaugeMm;
    const share = this.#crossedShare(diameterMm);
    return this.#lastMm + share * (gaugeMm - this.#lastMm);
  }

  #crossedTimeMs(timeMs: number, diameterMm: number): number {
    if (Number.isNaN(this.#lastTimeMs)) return timeMs;
    const share = this.#crossedShare(diameterMm);
    return this.#lastTimeMs + share * (timeMs - this.#lastTimeMs);
  }

  #crossedShare(diameterMm: number): number {
    const before = this.#lastDiameterMm;
    const share = (this.#limits.strandPresentMm - before) / (diameterMm - before);
    return share >= 0 && share <= 1 ? share : 0;
  }
}
