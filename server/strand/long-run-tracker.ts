import type { MeasuredSection, ShiftDoubt } from './section.ts';
import { newSection, type RunSections, type WorkingSection } from './working-section.ts';

const MERGE_MM = 10;
/**
 * Noise by less than this many standard deviations does not split a run, either: neither that of the last mean nor that of
 * the mean over all of the return, which scatters less. It is over after this length, mm, four times that of a mean.
 */
const NOISE = { sigmas: 4, lastsMm: 80 };
/** A touch of the limit joins a run over a return of up to this many times its own length. */
const JOINS_TIMES = 4;

/**
 * Finds where a mean along the strand stays beyond a limit over more than a given length. By the decision rule of ISO
 * 14253-1 there is a run where the mean is no longer surely within (limit − U), and it is sure once it is surely beyond
 * (limit + U). Its edges allow for the noise of the mean as well: without it a mean that is low by chance would leave out what is
 * beyond. What must be surely beyond is the mean over about the given length: the highest of many short means would soon
 * be beyond by chance. A hysteresis keeps noise at the limit from splitting a run: what is left of it could be too short to be
 * reported. But a touch of the limit before or behind a run does not join it if what is within between them is much longer.
 */
export class LongRunTracker {
  readonly #kind: MeasuredSection['kind'];
  readonly #side: 1 | -1;
  readonly #sections: RunSections;
  /** The values are diameters, so a volume beyond the limit has a meaning. */
  readonly #hasVolume: boolean;
  #limit = 0;
  #uncertainty = 0;
  #shift = 0;
  #shiftDoubt: ShiftDoubt = 'gaugeShifted';
  #hysteresis = 0;
  #lengthMm = 0;
  /** In a run: beyond limit − U, or in the hysteresis just inside it. */
  #beyond = false;
  #outside = false;
  #run: WorkingSection | null = null;
  #prevMm = Number.NaN;
  #prevTimeMs = 0;
  #prevValue = 0;
  /** Where the mean last returned within limit − U: the end of the run, unless the mean leaves again. */
  #backMm = Number.NaN;
  /** ∫ of the excess since then, mm². */
  #returnArea = 0;
  /** Up to here the run belongs together. Too little of what came later is beyond: this much. */
  #solidMm = 0;
  #solidTimeMs = 0;
  #beyondSinceMm = 0;
  /** Since here the mean has not been surely within, its noise included; NaN = it is. */
  #nearMm = Number.NaN;
  #nearTimeMs = 0;
  /** The run ends here, its noise included, if it ends with the last return. */
  #edgeMm = 0;
  #edgeTimeMs = 0;
  /** From the start of the run to here it belongs together: what decides is without that noise. */
  #beyondFromMm = 0;
  /** Mean of the run over about the length that makes it one, the latest strand first. */
  #longMean = 0;
  /** Two standard deviations of it, from noise of the gauge. */
  #longNoise = 0;

  constructor(kind: MeasuredSection['kind'], side: 1 | -1, sections: RunSections, hasVolume: boolean) {
    this.#kind = kind;
    this.#side = side;
    this.#sections = sections;
    this.#hasVolume = hasVolume;
  }

  setLimit(limit: number, uncertainty: number, hysteresis: number, longerThanMm: number): void {
    this.#limit = limit;
    this.#uncertainty = uncertainty;
    this.#hysteresis = hysteresis;
    this.#lengthMm = longerThanMm;
  }

  /** Takes all values from now on to be off by up to this, and why. A run still open is no longer sure because of it. */
  setShift(shift: number, doubt: ShiftDoubt): void {
    this.#shift = shift;
    this.#shiftDoubt = doubt;
    const run = this.#run;
    if (run === null || !run.sure || this.#isSure) return;
    run.sure = false;
    run.doubt = doubt;
    if (run.ordinal !== 0) this.#sections.markChanged(run);
  }

  get #isSure(): boolean {
    return this.#isSureBut(this.#shift);
  }

  /** Surely beyond, if all values are off by this at most. */
  #isSureBut(shift: number): boolean {
    return this.#side * (this.#longMean - this.#limit) > Math.hypot(this.#uncertainty + shift, this.#longNoise);
  }

  /**
   * @param startMm where measuring started: the first mean after an interruption holds from there
   * @param noise standard deviation of the value from noise of the gauge
   * @param spanMm length of strand that the value is the mean of
   */
  step(
    timeMs: number,
    placeMm: number,
    value: number,
    startMm: number,
    startTimeMs: number,
    noise: number,
    spanMm: number,
  ): void {
    const excess = this.#side * (value - this.#limit) + this.#uncertainty;
    this.#longNoise = 2 * noise * Math.min(1, Math.sqrt(spanMm / this.#lengthMm));
    const doubt = Math.hypot(this.#uncertainty, 2 * noise);
    this.#followDoubt(timeMs, placeMm, value, startMm, startTimeMs, doubt);
    if (excess > 0 || (this.#beyond && this.#staysBeyond(placeMm, excess, noise, spanMm))) {
      this.#outside = excess > 0;
      if (this.#run === null || this.#wasOnlyATouch(this.#run, placeMm, value))
        this.#run = this.#newRun(timeMs, placeMm, value, startMm, startTimeMs);
      this.#beyond = true;
      this.#grow(this.#run, timeMs, placeMm, value);
    } else if (this.#run !== null) {
      const run = this.#run;
      if (this.#beyond) {
        this.#noteReturn(timeMs, placeMm, value);
        this.#leave(run);
      }
      this.#beyond = false;
      if (placeMm - run.toMm > MERGE_MM) this.#end(run);
    }
    this.#prevMm = placeMm;
    this.#prevTimeMs = timeMs;
    this.#prevValue = value;
  }

  /** Measuring stopped after `endMm`; the last mean is taken to hold up to there. */
  interrupt(endMm: number, endTimeMs: number): void {
    const run = this.#run;
    if (run !== null) {
      if (this.#beyond) {
        if (this.#outside && endMm > run.toMm) this.#noteBeyond(endTimeMs, endMm, endMm - run.toMm);
        this.#leave(run);
      }
      this.#end(run);
    }
    this.#beyond = false;
    this.#prevMm = Number.NaN;
    this.#nearMm = Number.NaN;
  }

  /** Follows where the mean is not surely within, by this much. */
  #followDoubt(
    timeMs: number,
    placeMm: number,
    value: number,
    startMm: number,
    startTimeMs: number,
    doubt: number,
  ): void {
    const isNear = this.#side * (value - this.#limit) + doubt > 0;
    const wasNear = !Number.isNaN(this.#nearMm);
    const crosses = isNear !== wasNear && !Number.isNaN(this.#prevMm);
    const share = crosses ? this.#crossedShare(value, doubt) : 1;
    const atMm = this.#prevMm + share * (placeMm - this.#prevMm);
    const atTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
    if (this.#nearMm <= this.#backMm) [this.#edgeMm, this.#edgeTimeMs] = [atMm, atTimeMs];
    if (isNear === wasNear) return;
    this.#nearMm = !isNear ? Number.NaN : crosses ? atMm : startMm;
    this.#nearTimeMs = crosses ? atTimeMs : startTimeMs;
  }

  /** The return within limit − U so far may be noise. */
  #staysBeyond(placeMm: number, excess: number, noise: number, spanMm: number): boolean {
    if (excess + this.#hysteresis > 0) return true;
    const backMm = placeMm - this.#backMm;
    if (backMm > NOISE.lastsMm) return false;
    const most = NOISE.sigmas * noise;
    const mean = (this.#returnArea + excess * (placeMm - this.#prevMm)) / backMm;
    return excess + most > 0 && mean + most * Math.sqrt(spanMm / (spanMm + backMm)) > 0;
  }

  /** The run is not reported yet, and this mean is beyond again only long after it. */
  #wasOnlyATouch(run: WorkingSection, placeMm: number, value: number): boolean {
    if (run.ordinal !== 0 || !this.#outside || this.#prevIsBeyond) return false;
    const beyondMm = this.#solidMm - this.#beyondFromMm + this.#beyondSinceMm;
    return this.#crossedMm(placeMm, value) - this.#beyondFromMm > (1 + JOINS_TIMES) * beyondMm;
  }

  #newRun(timeMs: number, placeMm: number, value: number, startMm: number, startTimeMs: number): WorkingSection {
    let [fromMm, fromTimeMs] = [startMm, startTimeMs];
    if (!Number.isNaN(this.#prevMm)) {
      const share = this.#crossedShare(value);
      fromMm = this.#prevMm + share * (placeMm - this.#prevMm);
      fromTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
    }
    const isEarlier = this.#nearMm < fromMm;
    const run = newSection(this.#kind, isEarlier ? this.#nearMm : fromMm, isEarlier ? this.#nearTimeMs : fromTimeMs);
    this.#longMean = this.#limit - this.#side * this.#uncertainty;
    this.#beyondFromMm = fromMm;
    this.#solidMm = fromMm;
    this.#solidTimeMs = fromTimeMs;
    this.#beyondSinceMm = 0;
    if (this.#hasVolume) run.volumeMm3 = 0;
    return run;
  }

  #grow(run: WorkingSection, timeMs: number, placeMm: number, value: number): void {
    const areaBeyondMm2 = (Math.PI / 4) * Math.max(0, this.#side * (value * value - this.#limit * this.#limit));
    const stepFromMm = Number.isNaN(this.#prevMm) ? this.#beyondFromMm : Math.max(this.#beyondFromMm, this.#prevMm);
    // Where the values are no diameters, the volume is NaN, and stays NaN.
    run.volumeMm3 += areaBeyondMm2 * (placeMm - stepFromMm);
    this.#longMean += (value - this.#longMean) * Math.min(1, (2 * Math.max(0, placeMm - run.toMm)) / this.#lengthMm);
    run.toMm = placeMm;
    run.toTimeMs = timeMs;
    if (!(this.#side * (value - run.peakMm) <= 0)) {
      run.peakMm = value;
      run.peakAtMm = placeMm;
    }
    if (!run.sure && this.#isSure) {
      run.sure = true;
      if (run.ordinal !== 0) this.#sections.markChanged(run);
    }
    if (!run.sure && this.#shift > 0 && this.#isSureBut(0)) run.doubt = this.#shiftDoubt;
    if (this.#outside) {
      const goesOn = this.#prevIsBeyond || Number.isNaN(this.#prevMm);
      const sinceMm = goesOn ? stepFromMm : Math.max(stepFromMm, this.#crossedMm(placeMm, value));
      this.#noteBeyond(timeMs, placeMm, placeMm - sinceMm);
      this.#backMm = placeMm;
      this.#returnArea = 0;
      this.#openIfLong(run);
    } else {
      this.#noteReturn(timeMs, placeMm, value);
      const excess = this.#side * (value - this.#limit) + this.#uncertainty;
      this.#returnArea += excess * (placeMm - Math.max(this.#prevMm, this.#backMm));
    }
  }

  /** The last `byMm` up to a place are beyond. */
  #noteBeyond(timeMs: number, placeMm: number, byMm: number): void {
    this.#beyondSinceMm += byMm;
    if ((1 + JOINS_TIMES) * this.#beyondSinceMm < placeMm - this.#solidMm) return;
    this.#solidMm = placeMm;
    this.#solidTimeMs = timeMs;
    this.#beyondSinceMm = 0;
  }

  #openIfLong(run: WorkingSection): void {
    if (run.ordinal === 0 && this.#solidMm - this.#beyondFromMm > this.#lengthMm) this.#sections.start(run);
  }

  /** Strand in the hysteresis is within: it only keeps a run together. */
  #noteReturn(timeMs: number, placeMm: number, value: number): void {
    if (!this.#prevIsBeyond) return;
    const share = this.#crossedShare(value);
    this.#backMm = this.#crossedMm(placeMm, value);
    this.#noteBeyond(this.#prevTimeMs + share * (timeMs - this.#prevTimeMs), this.#backMm, this.#backMm - this.#prevMm);
  }

  #leave(run: WorkingSection): void {
    const isLater = this.#solidMm === this.#backMm && this.#edgeMm > this.#solidMm;
    run.toMm = isLater ? this.#edgeMm : this.#solidMm;
    run.toTimeMs = isLater ? this.#edgeTimeMs : this.#solidTimeMs;
    this.#openIfLong(run);
  }

  get #prevIsBeyond(): boolean {
    return this.#side * (this.#prevValue - this.#limit) + this.#uncertainty > 0;
  }

  #crossedMm(placeMm: number, value: number): number {
    return this.#prevMm + this.#crossedShare(value) * (placeMm - this.#prevMm);
  }

  /** Where limit − doubt was crossed between the previous mean and this one, as a share of the step. */
  #crossedShare(value: number, doubt = this.#uncertainty): number {
    const inner = this.#limit - this.#side * doubt;
    // New limits may have moved the crossing out of this step.
    return Math.min(1, Math.max(0, (inner - this.#prevValue) / (value - this.#prevValue)));
  }

  #end(run: WorkingSection): void {
    if (run.ordinal !== 0) {
      this.#sections.end(run);
      // The next one starts behind it.
      if (this.#nearMm < run.toMm) [this.#nearMm, this.#nearTimeMs] = [run.toMm, run.toTimeMs];
    }
    this.#run = null;
  }
}
