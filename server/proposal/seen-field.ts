/** What was seen of one field of the reading lines: enough to guess what it means. */
export interface SeenField {
  /** As the service calls it, which is what a mapping names. */
  readonly name: string;
  /** Printed behind the value; '' = none. */
  readonly unit: string;
  /** The latest value; NaN = none this time. */
  readonly last: number;
  /** Of all values so far; NaN where none has come. */
  readonly lowest: number;
  readonly highest: number;
  /** Values so far, gaps left out. */
  readonly count: number;
  /** Most digits behind the point; 0 = whole numbers. */
  readonly places: number;
  /** It has risen and never fallen. */
  readonly rising: boolean;
  /** How much it rises from one value to the next, on average. */
  readonly perValue: number;
  /** How much it rises in a second; NaN while too short to say. */
  readonly perS: number;
  /** Values about half a second apart, the latest last, at the same moments for all fields; NaN = none. */
  readonly recent: readonly number[];
}

/** Two minutes, at two values a second. */
const RECENT_MAX = 240;
const RECENT_EVERY_MS = 500;
/** A rate over less than this says little. */
const RATE_OVER_MS = 1500;
/** More fields than a line may have come only from garbage. */
const FIELDS_MAX = 128;

/** A field of one line. */
export interface FieldValue {
  readonly name: string;
  readonly unit: string;
  /** NaN = no value this time. */
  readonly value: number;
  /** Digits behind the point. */
  readonly places: number;
}

interface Tally {
  readonly name: string;
  unit: string;
  last: number;
  lowest: number;
  highest: number;
  count: number;
  places: number;
  fell: boolean;
  firstMs: number;
  first: number;
  latestMs: number;
  latest: number;
  readonly recent: number[];
}

/** Follows the fields of the lines that come, in bounded memory. Of a new sketch, make a new one. */
export class SeenFields {
  readonly #fields = new Map<string, Tally>();
  #sampledMs = Number.NEGATIVE_INFINITY;

  /** @param timeMs when the line came, never falling */
  add(line: readonly FieldValue[], timeMs: number): void {
    for (const { name, unit, value, places } of line) {
      const tally = this.#fields.get(name) ?? this.#begin(name, unit, timeMs);
      if (tally === null) continue;
      tally.unit = unit;
      tally.last = value;
      if (Number.isNaN(value)) continue;
      if (tally.count === 0) {
        tally.first = value;
        tally.firstMs = timeMs;
      } else if (value < tally.latest) tally.fell = true;
      tally.lowest = tally.count === 0 ? value : Math.min(tally.lowest, value);
      tally.highest = tally.count === 0 ? value : Math.max(tally.highest, value);
      tally.places = Math.max(tally.places, places);
      tally.latest = value;
      tally.latestMs = timeMs;
      tally.count++;
    }
    if (timeMs - this.#sampledMs < RECENT_EVERY_MS) return;
    this.#sampledMs = timeMs;
    for (const tally of this.#fields.values()) {
      tally.recent.push(tally.last);
      if (tally.recent.length > RECENT_MAX) tally.recent.shift();
    }
  }

  /** In the order in which the line has them. */
  all(): readonly SeenField[] {
    const longest = Math.max(0, ...[...this.#fields.values()].map(({ recent }) => recent.length));
    return [...this.#fields.values()].map((tally) => {
      const { name, unit, last, lowest, highest, count, places, fell, first, firstMs, latest, latestMs } = tally;
      const lastedMs = latestMs - firstMs;
      const padding = Array.from({ length: longest - tally.recent.length }, () => Number.NaN);
      return {
        name,
        unit,
        last,
        lowest,
        highest,
        count,
        places,
        rising: !fell && latest > first,
        perValue: count > 1 ? (latest - first) / (count - 1) : Number.NaN,
        perS: lastedMs >= RATE_OVER_MS ? (latest - first) / (lastedMs / 1000) : Number.NaN,
        recent: [...padding, ...tally.recent],
      };
    });
  }

  #begin(name: string, unit: string, timeMs: number): Tally | null {
    if (this.#fields.size >= FIELDS_MAX) return null;
    const tally: Tally = {
      name,
      unit,
      last: Number.NaN,
      lowest: Number.NaN,
      highest: Number.NaN,
      count: 0,
      places: 0,
      fell: false,
      firstMs: timeMs,
      first: Number.NaN,
      latestMs: timeMs,
      latest: Number.NaN,
      recent: [],
    };
    this.#fields.set(name, tally);
    return tally;
  }
}
