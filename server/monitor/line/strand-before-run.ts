import type { Reading } from '../../reading/reading.ts';
import type { SampleContext } from '../../strand/section-detector.ts';

/** Moving strand starts a run after two seconds. */
const KEPT_MS = 4000;
/** While the start of a run cannot be written, for example on a full disk: some megabytes at 50 readings/s. */
const KEPT_WHILE_REFUSED_MS = 5 * 60_000;

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
  #keptMs = KEPT_MS;

  add(early: EarlyReading): void {
    const kept = this.#kept;
    const { timeMs } = early.reading;
    kept.push(early);
    if (timeMs - (kept[0]?.reading.timeMs ?? timeMs) > 2 * this.#keptMs) this.#kept = [...this.recent(timeMs)];
  }

  /** The run could not be started: what is kept waits longer for it. */
  refused(): void {
    this.#keptMs = KEPT_WHILE_REFUSED_MS;
  }

  /** Strand that moves later is not continuous with what was kept, or the run has started. */
  clear(): void {
    this.#keptMs = KEPT_MS;
    if (this.#kept.length > 0) this.#kept = [];
  }

  /** The kept readings that are recent enough. */
  recent(timeMs: number): readonly EarlyReading[] {
    return this.#kept.filter(({ reading }) => timeMs - reading.timeMs <= this.#keptMs);
  }
}
