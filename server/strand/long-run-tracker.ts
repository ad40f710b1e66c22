import type { MeasuredSection } from './section.ts';
import { newSection, type SectionRegister, type WorkingSection } from './working-section.ts';

const MERGE_MM = 10;

/**
 * Finds where a mean along the strand stays beyond a limit for longer than a given length. The decision rule is that of
 * ISO 14253-1: it begins where the mean is no longer surely within (limit − U), and is sure once it is surely beyond
 * (limit + U). It ends a little further inside, so that noise at the limit does not cut it to pieces.
 */
export class LongRunTracker {
  readonly #kind: MeasuredSection['kind'];
  readonly #side: 1 | -1;
  readonly #register: SectionRegister;
  /** Whether values are diameters, so that a volume beyond the limit has a meaning. */
  readonly #hasVolume: boolean;
  #limit = 0;
  #uncertainty = 0;
  #hysteresis = 0;
  #lengthMm = 0;
  /** In a run: beyond limit − U, or in the play just within it. */
  #beyond = false;
  #outside = false;
  #run: WorkingSection | null = null;
  #prevMm = Number.NaN;
  #prevTimeMs = 0;
  #prevValue = 0;
  /** Where the mean last came back within limit − U: the end of the run, should it not go out again. */
  #backMm = Number.NaN;
  #backTimeMs = 0;

  constructor(kind: MeasuredSection['kind'], side: 1 | -1, register: SectionRegister, hasVolume: boolean) {
    this.#kind = kind;
    this.#side = side;
    this.#register = register;
    this.#hasVolume = hasVolume;
  }

  setLimit(limit: number, uncertainty: number, hysteresis: number, longerThanMm: number): void {
    this.#limit = limit;
    this.#uncertainty = uncertainty;
    this.#hysteresis = hysteresis;
    this.#lengthMm = longerThanMm;
  }

  /** `startMm`: where measuring began, which the first mean after an interruption stands for. */
  step(timeMs: number, placeMm: number, value: number, startMm: number, startTimeMs: number): void {
    const excess = this.#side * (value - this.#limit) + this.#uncertainty;
    if (excess > 0 || (this.#beyond && excess + this.#hysteresis > 0)) {
      if (!this.#beyond) this.#enter(timeMs, placeMm, value, startMm, startTimeMs);
      this.#beyond = true;
      this.#outside = excess > 0;
      if (!this.#outside) this.#comeBack(timeMs, placeMm, value);
      this.#grow(timeMs, placeMm, value);
    } else {
      if (this.#beyond) {
        this.#comeBack(timeMs, placeMm, value);
        this.#leave();
      }
      this.#beyond = false;
      const run = this.#run;
      if (run !== null && placeMm - run.toMm > MERGE_MM) this.#end();
    }
    this.#prevMm = placeMm;
    this.#prevTimeMs = timeMs;
    this.#prevValue = value;
  }

  /** Measuring stopped after `endMm`, up to which the last mean is taken to hold. */
  interrupt(endMm: number, endTimeMs: number): void {
    const run = this.#run;
    if (run !== null) {
      if (this.#beyond && !this.#outside) this.#leave();
      else if (this.#beyond && endMm > run.toMm) {
        run.toMm = endMm;
        run.toTimeMs = endTimeMs;
        this.#openIfLong(run);
      }
      this.#end();
    }
    this.#beyond = false;
    this.#prevMm = Number.NaN;
  }

  #enter(timeMs: number, placeMm: number, value: number, startMm: number, startTimeMs: number): void {
    if (this.#run !== null) return;
    if (Number.isNaN(this.#prevMm)) {
      this.#run = newSection(this.#kind, startMm, startTimeMs);
    } else {
      const share = this.#crossedShare(value);
      this.#run = newSection(
        this.#kind,
        this.#prevMm + share * (placeMm - this.#prevMm),
        this.#prevTimeMs + share * (timeMs - this.#prevTimeMs),
      );
    }
    if (this.#hasVolume) this.#run.volumeMm3 = 0;
  }

  #grow(timeMs: number, placeMm: number, value: number): void {
    const run = this.#run as WorkingSection;
    if (this.#hasVolume && placeMm > run.toMm) {
      const beyond = this.#side * (value - this.#limit);
      if (beyond > 0)
        run.volumeMm3 +=
          (Math.PI / 4) *
          Math.abs(value * value - this.#limit * this.#limit) *
          (placeMm - Math.max(run.fromMm, Number.isNaN(this.#prevMm) ? run.fromMm : this.#prevMm));
    }
    run.toMm = placeMm;
    run.toTimeMs = timeMs;
    if (!(this.#side * (value - run.peakMm) <= 0)) {
      run.peakMm = value;
      run.peakAtMm = placeMm;
    }
    if (!run.sure && this.#side * (value - this.#limit) > this.#uncertainty) {
      run.sure = true;
      if (run.ordinal !== 0) this.#register.touch(run);
    }
    if (!this.#outside) return;
    this.#backMm = placeMm;
    this.#backTimeMs = timeMs;
    this.#openIfLong(run);
  }

  #openIfLong(run: WorkingSection): void {
    if (run.ordinal === 0 && run.toMm - run.fromMm > this.#lengthMm) this.#register.begin(run);
  }

  /** The play only keeps a run together: what lies in it is within. */
  #comeBack(timeMs: number, placeMm: number, value: number): void {
    const before = this.#side * (this.#prevValue - this.#limit) + this.#uncertainty;
    if (!(before > 0)) return;
    const share = this.#crossedShare(value);
    this.#backMm = this.#prevMm + share * (placeMm - this.#prevMm);
    this.#backTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
  }

  #leave(): void {
    const run = this.#run as WorkingSection;
    run.toMm = Math.max(run.fromMm, this.#backMm);
    run.toTimeMs = Math.max(run.fromTimeMs, this.#backTimeMs);
    this.#openIfLong(run);
  }

  /** Where between the mean before and this one limit − U was crossed. */
  #crossedShare(value: number): number {
    const inner = this.#limit - this.#side * this.#uncertainty;
    // New limits may have moved the crossing out of this step.
    return Math.min(1, Math.max(0, (inner - this.#prevValue) / (value - this.#prevValue)));
  }

  #end(): void {
    const run = this.#run as WorkingSection;
    if (run.ordinal !== 0) this.#register.end(run);
    this.#run = null;
  }
}
