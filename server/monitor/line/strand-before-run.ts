import type { Reading } from '../../reading/reading.ts';
import type { SampleContext } from '../../strand/section-detector.ts';

/** Moving strand starts a run after two seconds; a start that could not be written is tried again after one. */
const KEPT_MS = 4000;

/** A reading of moving strand that came before its run, with what was derived from it. */
export interface EarlyReading {
  readonly reading: Reading;
  /** As counted since the connection was opened. */
  readonly countedMm: number;
  readonly diameterMm: number;
  readonly context: SampleContext;
}

/** Keeps the first readings of moving strand until the line is recognised as making strand and a run starts. */
export class StrandBeforeRun {
  #kept: EarlyReading[] = [];

  add(early: EarlyReading): void {
    const kept = this.#kept;
    const { timeMs } = early.reading;
    kept.push(early);
    if (timeMs - (kept[0]?.reading.timeMs ?? timeMs) > 2 * KEPT_MS) {
      this.#kept = kept.filter(({ reading }) => timeMs - reading.timeMs <= KEPT_MS);
    }
  }

  /** Strand that moves later is not continuous with what was kept. */
  clear(): void {
    if (this.#kept.length > 0) this.#kept = [];
  }

  /** The kept readings that are recent enough, which are then forgotten. */
  take(timeMs: number): readonly EarlyReading[] {
    const kept = this.#kept.filter(({ reading }) => timeMs - reading.timeMs <= KEPT_MS);
    this.#kept = [];
    return kept;
  }
}
