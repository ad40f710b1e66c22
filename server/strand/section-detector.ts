import { LostTracker, UnknownTracker } from './absence-trackers.ts';
import { ExcessTracker, mergeGapMm } from './excess-tracker.ts';
import { LongRunTracker } from './long-run-tracker.ts';
import type { MeasuredSection } from './section.ts';
import type { StrandLimits } from './strand-limits.ts';
import { StrandWindow } from './strand-window.ts';
import { SectionRegister } from './working-section.ts';

/** What a sample comes with. One object may be used for all samples. */
export interface SampleContext {
  /** Strand that passed unmeasured just before this sample, mm; 0 normally. */
  gapMm: number;
  /** |dx − dy|, mm; NaN with a gauge of one axis. */
  outOfRoundMm: number;
  /** NaN = unknown. */
  speedMmPerS: number;
  /** Where, and when, the reading began that a frozen gauge repeats (`GaugeWatch`); NaN = the gauge is not frozen. */
  frozenSinceMm: number;
  frozenSinceTimeMs: number;
}

/** A context of one axis without gaps and with an unknown speed, to be filled. */
export function plainContext(): SampleContext {
  return {
    gapMm: 0,
    outOfRoundMm: Number.NaN,
    speedMmPerS: Number.NaN,
    frozenSinceMm: Number.NaN,
    frozenSinceTimeMs: Number.NaN,
  };
}

/** Rises with every change after which the same readings may give other sections: what was found before is found again. */
export const DETECTOR_VERSION = 1;

const PITCH_SHARE = 1 / 32;
/** The strand's own diameter is followed over this much strand, or this many samples if they are longer. */
const BASELINE_MM = 10;
const BASELINE_SAMPLES = 8;

/**
 * Turns samples of the strand into sections, one sample at a time: the result does not depend on how they are batched.
 *
 * ```
 * sample ─┬─ gap? no value? frozen? ──── UnknownTracker
 *         ├─ below strandPresent ─────── LostTracker
 *         ├─ larger axis ─────────────── ExcessTracker blob   (hotend limit)
 *         ├─ mean diameter ───────────── ExcessTracker neck   (least feedable)
 *         └─ StrandWindow: 20 mm mean ─┬ LongRunTracker off tolerance, above and below
 *                                      └ LongRunTracker out of round (with two axes)
 * ```
 *
 * A blob is judged by the larger of two axes, because the bore passes no mean.
 */
export class SectionDetector {
  readonly #register: SectionRegister;
  readonly #blob: ExcessTracker;
  readonly #neck: ExcessTracker;
  readonly #above: LongRunTracker;
  readonly #below: LongRunTracker;
  readonly #outOfRound: LongRunTracker;
  readonly #unknown: UnknownTracker;
  readonly #lost: LostTracker;
  readonly #window = new StrandWindow();
  #limits!: StrandLimits;
  #pitchMm = Number.NaN;
  #baselineMm = Number.NaN;
  #lastMm = Number.NaN;
  #lastTimeMs = Number.NaN;
  #lastDiameterMm = Number.NaN;
  /** Last sample with a value (a lost strand is one too). */
  #valueMm = Number.NaN;
  #valueTimeMs = Number.NaN;
  /** Where measuring began or began anew. */
  #startMm = Number.NaN;
  #startTimeMs = Number.NaN;
  #interrupted = true;

  constructor(limits: StrandLimits, nextOrdinal = 1) {
    const register = new SectionRegister(nextOrdinal);
    this.#register = register;
    this.#blob = new ExcessTracker('blob', register);
    this.#neck = new ExcessTracker('neck', register);
    this.#above = new LongRunTracker('offTolerance', 1, register, true);
    this.#below = new LongRunTracker('offTolerance', -1, register, true);
    this.#outOfRound = new LongRunTracker('outOfRound', 1, register, false);
    this.#unknown = new UnknownTracker(register);
    this.#lost = new LostTracker(register);
    this.setLimits(limits);
  }

  /** Usual distance between two samples, mm; NaN before the second. */
  get pitchMm(): number {
    return this.#pitchMm;
  }

  /** Lone samples that the gauge can not have seen on a strand, and that made no section. */
  get glitches(): number {
    return this.#blob.glitches + this.#neck.glitches;
  }

  /** A number for a section that was found by other means: none that is found here gets it. */
  takeOrdinal(): number {
    return this.#register.takeOrdinal();
  }

  /** What comes from now on is judged against these; open sections go on. */
  setLimits(limits: StrandLimits): void {
    const { nominalMm, toleranceMm, gaugeUncertaintyMm: u } = limits;
    const longerThanMm = limits.offToleranceLengthMm;
    // A tenth of the band, or the gauge's own doubt, is the play that an end needs.
    const play = Math.max(u, toleranceMm / 10);
    this.#limits = limits;
    this.#blob.setLimit(limits.hotendLimitMm, u);
    this.#neck.setLimit(limits.leastFeedableMm, u);
    this.#above.setLimit(nominalMm + toleranceMm, u, play, longerThanMm);
    this.#below.setLimit(nominalMm - toleranceMm, u, play, longerThanMm);
    // A round gauge error cancels in dx − dy, but each axis has its own: √2 U.
    this.#outOfRound.setLimit(2 * toleranceMm, Math.SQRT2 * u, play, longerThanMm);
  }

  /**
   * One sample. `diameterMm` NaN = no value; `gaugeMm` must not fall. Gives back the sections that were opened, became
   * sure, grew higher or were closed by it: an empty list, always the same, while there are none.
   */
  step(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): readonly MeasuredSection[] {
    const advance = gaugeMm - this.#lastMm;
    const gapMm = context.gapMm;
    if (gapMm > 0) this.#gap(timeMs, gaugeMm, diameterMm, context);
    else if (advance >= 0)
      this.#pitchMm = Number.isNaN(this.#pitchMm) ? advance : this.#pitchMm + (advance - this.#pitchMm) * PITCH_SHARE;
    if (Number.isNaN(this.#valueMm)) {
      this.#valueMm = gaugeMm;
      this.#valueTimeMs = timeMs;
    }

    if (diameterMm < this.#limits.strandPresentMm) this.#absent(timeMs, gaugeMm, diameterMm);
    else if (Number.isNaN(diameterMm)) this.#noValue(timeMs, gaugeMm);
    else if (!Number.isNaN(context.frozenSinceMm)) this.#frozen(timeMs, gaugeMm, context);
    else this.#measured(timeMs, gaugeMm, diameterMm, context.outOfRoundMm);

    this.#lastMm = gaugeMm;
    this.#lastTimeMs = timeMs;
    if (!Number.isNaN(diameterMm)) this.#lastDiameterMm = diameterMm;
    return this.#register.take();
  }

  /** The open sections as they stand now, with the strand at the gauge as their end. */
  open(): readonly MeasuredSection[] {
    return this.#register.open();
  }

  /** The run ends: closes all. Gives back what has changed. */
  close(timeMs: number): readonly MeasuredSection[] {
    if (this.#lost.lost) this.#lost.still(timeMs, this.#lastMm);
    this.#interrupt(false);
    this.#unknown.end();
    this.#lost.end();
    return this.#register.take();
  }

  #gap(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): void {
    const { gapMm, speedMmPerS } = context;
    if (this.#lost.lost) {
      // Gone before and gone after: it was gone in between.
      if (!(diameterMm >= this.#limits.strandPresentMm)) return;
      this.#lost.end();
    }
    if (gapMm > mergeGapMm(this.#pitchMm)) this.#interrupt(false);
    // After a restart of the service the sample before is not known here, only what has passed since.
    const fromTimeMs = Number.isNaN(this.#lastTimeMs)
      ? timeMs - (speedMmPerS > 0 ? (1000 * gapMm) / speedMmPerS : 0)
      : this.#lastTimeMs;
    this.#unknown.gap(fromTimeMs, timeMs, gapMm, gaugeMm, this.#pitchMm);
  }

  #noValue(timeMs: number, gaugeMm: number): void {
    if (this.#lost.lost) {
      this.#lost.still(timeMs, gaugeMm);
      this.#valueMm = gaugeMm;
      this.#valueTimeMs = timeMs;
      return;
    }
    this.#unknown.noValue(this.#valueMm, this.#valueTimeMs, gaugeMm, timeMs, this.#pitchMm);
    if (gaugeMm - this.#valueMm > mergeGapMm(this.#pitchMm)) this.#interrupt(false);
  }

  /** The value is no measurement, and none of the same ones before it was. */
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

  #measured(timeMs: number, gaugeMm: number, diameterMm: number, outOfRoundMm: number): void {
    const pitch = this.#pitchMm;
    if (!this.#lost.idle)
      this.#lost.present(gaugeMm, this.#crossedMm(gaugeMm, diameterMm), this.#crossedTimeMs(timeMs, diameterMm), pitch);
    if (this.#valueMm !== this.#lastMm) this.#unknown.noValue(this.#valueMm, this.#valueTimeMs, gaugeMm, timeMs, pitch);
    else if (!this.#unknown.idle) this.#unknown.pass(gaugeMm, pitch);

    const oneAxis = Number.isNaN(outOfRoundMm);
    const largest = oneAxis ? diameterMm : diameterMm + outOfRoundMm / 2;
    const beyondBlob = this.#blob.isBeyond(largest);
    const beyondNeck = this.#neck.isBeyond(diameterMm);
    const baseline = Number.isNaN(this.#baselineMm) ? this.#limits.nominalMm : this.#baselineMm;
    if (beyondBlob || !this.#blob.idle) this.#blob.step(timeMs, gaugeMm, largest, baseline, pitch, outOfRoundMm);
    else this.#blob.pass(timeMs, gaugeMm, largest);
    if (beyondNeck || !this.#neck.idle) this.#neck.step(timeMs, gaugeMm, diameterMm, baseline, pitch, outOfRoundMm);
    else this.#neck.pass(timeMs, gaugeMm, diameterMm);
    if (!beyondBlob && !beyondNeck) this.#follow(diameterMm, gaugeMm);

    if (this.#interrupted) {
      this.#interrupted = false;
      this.#startMm = gaugeMm;
      this.#startTimeMs = timeMs;
    }
    const window = this.#window;
    if (window.add(timeMs, gaugeMm, diameterMm, outOfRoundMm)) {
      const { centreTimeMs, centreMm, meanMm, meanOutOfRoundMm } = window;
      this.#above.step(centreTimeMs, centreMm, meanMm, this.#startMm, this.#startTimeMs);
      this.#below.step(centreTimeMs, centreMm, meanMm, this.#startMm, this.#startTimeMs);
      if (!Number.isNaN(meanOutOfRoundMm))
        this.#outOfRound.step(centreTimeMs, centreMm, meanOutOfRoundMm, this.#startMm, this.#startTimeMs);
    }
    this.#valueMm = gaugeMm;
    this.#valueTimeMs = timeMs;
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
    this.#blob.interrupt(this.#pitchMm, lost);
    this.#neck.interrupt(this.#pitchMm, lost);
    this.#above.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#below.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#outOfRound.interrupt(this.#valueMm, this.#valueTimeMs);
    this.#window.reset();
    this.#baselineMm = Number.NaN;
  }

  /** Where, between the last sample and this, the diameter crossed the presence limit. */
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
