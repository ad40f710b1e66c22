import { type Reading, valueAt } from '../../reading/reading.ts';

/** A slow line may print its signals in several lines, so a single reading proves nothing, ms. */
const CHANGED_AFTER_MS = 1000;
/** The first value under a new name is like a sensor's last one if it differs by no more than this share. */
const ALIKE = 0.2;
const GAUGE = 0;

/** What no longer arrives under a name that is understood. */
export interface LostNames {
  /** Nothing that the line sends now is understood. */
  readonly all: boolean;
  readonly diameter: boolean;
  /** Numbers of the zones whose temperature is gone, ascending. */
  readonly zones: readonly number[];
}

interface Sensor {
  /** The last value, when it came and how long after the one before, and how many columns readings had then. */
  last: number;
  lastMs: number;
  spacingMs: number;
  columns: number;
  /** The column that has brought its values since; -1 = it has kept its name. */
  heir: number;
}

/**
 * Notices that a board prints other names than before, such as after a new sketch: values come under new names, and none
 * under a name whose meaning is known. One sensor among others has changed its name if a new name brings a value like its
 * last one. A sensor that fails keeps its name.
 */
export class FormatWatch {
  /** By zone. */
  readonly #sensors = new Map<number, Sensor>();
  /** Columns that readings had when they last held a known signal; -1 = never yet. */
  #knownColumns = -1;
  #knownMs = Number.NaN;
  #lost: LostNames | null = null;

  step(reading: Reading): void {
    const allSent = this.#noteSensors(reading);
    if (allSent || hasKnownSignal(reading)) {
      this.#knownColumns = reading.layout.signals.length;
      this.#knownMs = reading.timeMs;
      if (this.#lost?.all) this.#lost = null;
      if (!allSent) this.#lookForHeirs(reading);
    } else if (!this.#lost?.all && this.#knownColumns >= 0 && this.#hasNewSignal(reading))
      this.#lost = { all: true, diameter: true, zones: [...this.#sensors.keys()].filter((zone) => zone !== GAUGE) };
  }

  /** Null = all that was understood still is. The same object until that changes. */
  get lost(): LostNames | null {
    return this.#lost;
  }

  /** Returns whether this reading has a value of each sensor that ever sent one. */
  #noteSensors(reading: Reading): boolean {
    const { layout } = reading;
    let sent = this.#note(reading, GAUGE, layout.diameter) ? 1 : 0;
    for (const { zone, temperature } of layout.zones) if (this.#note(reading, zone, temperature)) sent++;
    return sent > 0 && sent === this.#sensors.size;
  }

  #note(reading: Reading, zone: number, column: number): boolean {
    const value = valueAt(reading, column);
    if (Number.isNaN(value)) return false;
    let sensor = this.#sensors.get(zone);
    if (sensor === undefined) {
      sensor = { last: 0, lastMs: Number.NaN, spacingMs: Number.NaN, columns: 0, heir: -1 };
      this.#sensors.set(zone, sensor);
    }
    sensor.last = value;
    sensor.spacingMs = reading.timeMs - sensor.lastMs;
    sensor.lastMs = reading.timeMs;
    sensor.columns = reading.layout.signals.length;
    if (sensor.heir >= 0) {
      sensor.heir = -1;
      this.#noteRenamed();
    }
    return true;
  }

  #lookForHeirs({ timeMs, layout, values }: Reading): void {
    for (const sensor of this.#sensors.values()) {
      const { heir, last, lastMs, spacingMs, columns } = sensor;
      if (heir >= 0 || columns === layout.signals.length) continue;
      // Before its second value nothing is known about how often it comes, nor about what else the line sends.
      if (!(timeMs - lastMs > Math.max(CHANGED_AFTER_MS, 2 * spacingMs))) continue;
      sensor.heir = values.findIndex(
        (value, column) =>
          column >= columns &&
          layout.signals[column]?.role === null &&
          Math.abs(value - last) <= ALIKE * Math.abs(last) &&
          ![...this.#sensors.values()].some((other) => other.heir === column),
      );
      if (sensor.heir >= 0) this.#noteRenamed();
    }
  }

  #noteRenamed(): void {
    const renamed = [...this.#sensors].flatMap(([zone, { heir }]) => (heir >= 0 ? [zone] : [])).sort((a, b) => a - b);
    const zones = renamed.filter((zone) => zone !== GAUGE);
    this.#lost = renamed.length === 0 ? null : { all: false, diameter: renamed.includes(GAUGE), zones };
  }

  #hasNewSignal({ timeMs, values }: Reading): boolean {
    if (timeMs - this.#knownMs <= CHANGED_AFTER_MS) return false;
    return values.some((value, column) => column >= this.#knownColumns && !Number.isNaN(value));
  }
}

function hasKnownSignal(reading: Reading): boolean {
  const { layout, values } = reading;
  return values.some((value, column) => !Number.isNaN(value) && layout.signals[column]?.role != null);
}
