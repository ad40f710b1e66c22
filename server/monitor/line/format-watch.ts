import { type Reading, valueAt } from '../../reading/reading.ts';

/** A slow line may print its signals in several lines, so a single reading proves nothing, ms. */
const CHANGED_AFTER_MS = 1000;

/**
 * Notices that a board prints other names than before, such as after a new sketch: readings hold values under new names
 * and none under a name whose meaning is known. A sensor that fails keeps its name.
 */
export class FormatWatch {
  /** Columns that readings had when they last held a known signal; -1 = never yet. */
  #knownColumns = -1;
  #knownMs = Number.NaN;
  #changed = false;

  step(reading: Reading): void {
    if (hasKnownSignal(reading)) {
      this.#knownColumns = reading.layout.signals.length;
      this.#knownMs = reading.timeMs;
      this.#changed = false;
    } else if (!this.#changed && this.#knownColumns >= 0) {
      this.#changed = reading.timeMs - this.#knownMs > CHANGED_AFTER_MS && this.#hasNewSignal(reading);
    }
  }

  /** Nothing that the line sends now is understood, although it was before. */
  get changed(): boolean {
    return this.#changed;
  }

  #hasNewSignal({ values }: Reading): boolean {
    return values.some((value, column) => column >= this.#knownColumns && !Number.isNaN(value));
  }
}

function hasKnownSignal(reading: Reading): boolean {
  const { layout, values } = reading;
  // Nearly always true, and cheap.
  if (!Number.isNaN(valueAt(reading, layout.diameter))) return true;
  return values.some((value, column) => !Number.isNaN(value) && layout.signals[column]?.role != null);
}
