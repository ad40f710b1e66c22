import { Sightings } from './sightings.ts';

/** What was seen of one field of the reading lines: enough to guess what it means. */
export interface SeenField {
  /** As the service calls it, which is what a mapping names. */
  readonly name: string;
  /** Printed after the value; '' = none. */
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
  /** It never falls, and rises most of the time, as a counter does. */
  readonly rising: boolean;
  /** How much it rises from one line to the next, on average. */
  readonly perLine: number;
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
/** Of the steps from one value to the next. */
const RISES_SHARE = 0.5;
/** A fall so soon after a restart is none. */
const RESET_AFTER_STEPS = 2;
/** Opening a port resets many boards, so that the first values may be from before it. */
const BEFORE_RESET_MAX = 3;
/** More fields than a line may have come only from garbage. */
const FIELDS_MAX = 128;

/** So often values are looked at: closely at first, then as often as a chart needs. */
const CLOSELY_MS = 40;
const CLOSELY_FOR_MS = 60_000;

/** The fields of a line: as many values and digits behind the point as names; NaN = no value this time. */
export interface FieldsOfLine {
  readonly names: readonly string[];
  /** Printed after the values, '' = none; empty in shapes that print none. */
  readonly units: readonly string[];
}

/** A field that has come so often comes regularly. */
const REGULAR_FROM = 20;
/** It has stopped after so many of its intervals, and after this time. */
const MISSED = 10;
const MISSED_MS = 3000;
/** Another field has come so often since. */
const KNOWN_FROM = 5;

interface Tally {
  readonly name: string;
  readonly begunMs: number;
  /** A line with it was accepted; else all its values are from lines that wait for confirmation. */
  accepted: boolean;
  unit: string;
  last: number;
  lowest: number;
  highest: number;
  count: number;
  places: number;
  fell: boolean;
  /** Since the counter was last reset. */
  steps: number;
  rises: number;
  firstMs: number;
  first: number;
  firstLine: number;
  latestMs: number;
  latest: number;
  latestLine: number;
  readonly recent: number[];
}

/** Follows the fields of the lines that come, in bounded memory. Of a new sketch, make a new one. */
export class SeenFields {
  readonly #fields = new Map<string, Tally>();
  readonly #sightings = new Sightings();
  #firstMs = Number.NaN;
  #lookedMs = Number.NEGATIVE_INFINITY;
  #sampledMs = Number.NEGATIVE_INFINITY;

  /**
   * @param timeMs when the line came, never falling; NaN = not known
   * @param lines number of lines so far
   */
  add(
    { names, units }: FieldsOfLine,
    values: ArrayLike<number>,
    places: ArrayLike<number>,
    timeMs: number,
    lines: number,
  ): void {
    if (Number.isNaN(timeMs)) return;
    if (Number.isNaN(this.#firstMs)) this.#firstMs = timeMs;
    const everyMs = timeMs - this.#firstMs < CLOSELY_FOR_MS ? CLOSELY_MS : RECENT_EVERY_MS;
    // The lines of one reading may come one value at a time, so each name counts on its own then.
    const isEarly = timeMs - this.#lookedMs < everyMs;
    if (isEarly && (names.length > 1 || !this.#isDue(names[0] ?? '', timeMs, everyMs))) return;
    this.#lookedMs = timeMs;
    for (let i = 0; i < names.length; i++)
      this.#addValue(names[i]!, units[i] ?? '', values[i] ?? Number.NaN, places[i] ?? 0, timeMs, lines, true);
    if (timeMs - this.#sampledMs < RECENT_EVERY_MS) return;
    this.#sampledMs = timeMs;
    this.#forgetFormer(timeMs);
    for (const tally of this.#fields.values()) {
      // Seldom, but many at once: to take one from the front moves all others.
      if (tally.recent.length >= 2 * RECENT_MAX) tally.recent.splice(0, RECENT_MAX);
      tally.recent.push(tally.last);
    }
  }

  /**
   * A new sketch may print free text, too: half of what came regularly, or more, has stopped, and other names have begun since. What
   * the former one printed would be proposed for ever.
   */
  #forgetFormer(timeMs: number): void {
    const all = [...this.#fields.values()];
    const stopped = all.filter((tally) => isRegular(tally) && timeMs - tally.latestMs >= silenceOf(tally));
    if (stopped.length === 0) return;
    const stoppedMs = Math.max(...stopped.map(({ latestMs }) => latestMs));
    const former = all.filter(({ begunMs }) => begunMs <= stoppedMs);
    const hasOthers = all.some(({ begunMs, count }) => begunMs > stoppedMs && count >= KNOWN_FROM);
    if (!hasOthers || 2 * stopped.length < former.filter(isRegular).length) return;
    for (const { name } of former) this.#fields.delete(name);
  }

  /**
   * A line that waits until its form is confirmed. What a board prints only when it changes may come twice in a minute, so
   * its names count here, where they are only proposed, long before such lines are believed.
   */
  sight(
    { names, units }: FieldsOfLine,
    values: ArrayLike<number>,
    places: ArrayLike<number>,
    timeMs: number,
    lines: number,
  ): void {
    // Damage nearly always leaves one of several names as it was.
    if (Number.isNaN(timeMs) || names.some((name) => this.#fields.get(name)?.accepted === true)) return;
    names.forEach((name, i) => {
      const sighting = { unit: units[i] ?? '', value: values[i] ?? Number.NaN, places: places[i] ?? 0, timeMs, lines };
      const due = this.#fields.has(name) ? [sighting] : this.#sightings.add(name, sighting, this.#fields.values());
      for (const one of due) this.#addValue(name, one.unit, one.value, one.places, one.timeMs, one.lines);
    });
  }

  #isDue(name: string, timeMs: number, everyMs: number): boolean {
    const tally = this.#fields.get(name);
    return tally === undefined || timeMs - tally.latestMs >= everyMs;
  }

  #addValue(
    name: string,
    unit: string,
    value: number,
    places: number,
    timeMs: number,
    lines: number,
    accepted = false,
  ): void {
    const tally = this.#fields.get(name) ?? this.#begin(name, unit, timeMs);
    if (tally === null) return;
    if (accepted && !tally.accepted) {
      tally.accepted = true;
      this.#sightings.forget(name);
    }
    tally.unit = unit;
    tally.last = value;
    if (Number.isNaN(value)) return;
    if (tally.count === 0 || isReset(tally, value)) {
      tally.first = value;
      tally.firstMs = timeMs;
      tally.firstLine = lines;
      tally.steps = 0;
      tally.rises = 0;
    } else {
      tally.steps++;
      if (value > tally.latest) tally.rises++;
      else if (value < tally.latest) tally.fell = true;
    }
    tally.lowest = tally.count === 0 ? value : Math.min(tally.lowest, value);
    tally.highest = tally.count === 0 ? value : Math.max(tally.highest, value);
    tally.places = Math.max(tally.places, places);
    tally.latest = value;
    tally.latestMs = timeMs;
    tally.latestLine = lines;
    tally.count++;
  }

  /** The board prints the name. */
  has(name: string): boolean {
    return this.#fields.has(name);
  }

  names(): readonly string[] {
    return [...this.#fields.keys()];
  }

  /** In the order in which the line has them. */
  all(): readonly SeenField[] {
    const longest = Math.min(RECENT_MAX, Math.max(0, ...[...this.#fields.values()].map(({ recent }) => recent.length)));
    return [...this.#fields.values()].map((tally) => {
      const { name, unit, last, lowest, highest, count, places, fell, first, firstMs, latest, latestMs } = tally;
      const linesPassed = tally.latestLine - tally.firstLine;
      const lastedMs = latestMs - firstMs;
      const recent = tally.recent.slice(-RECENT_MAX);
      const padding = Array.from({ length: longest - recent.length }, () => Number.NaN);
      return {
        name,
        unit,
        last,
        lowest,
        highest,
        count,
        places,
        rising: !fell && isRising(tally),
        perLine: linesPassed > 0 ? (latest - first) / linesPassed : Number.NaN,
        perS: lastedMs >= RATE_OVER_MS ? (latest - first) / (lastedMs / 1000) : Number.NaN,
        recent: [...padding, ...recent],
      };
    });
  }

  #begin(name: string, unit: string, timeMs: number): Tally | null {
    if (this.#fields.size >= FIELDS_MAX) return null;
    const tally: Tally = {
      name,
      begunMs: timeMs,
      accepted: false,
      unit,
      last: Number.NaN,
      lowest: Number.NaN,
      highest: Number.NaN,
      count: 0,
      places: 0,
      fell: false,
      steps: 0,
      rises: 0,
      firstMs: timeMs,
      first: Number.NaN,
      firstLine: 0,
      latestMs: Number.NEGATIVE_INFINITY,
      latest: Number.NaN,
      latestLine: 0,
      recent: [],
    };
    this.#fields.set(name, tally);
    return tally;
  }
}

function isRegular({ count }: Tally): boolean {
  return count >= REGULAR_FROM;
}

/** After such a silence a field that came regularly has stopped. */
function silenceOf({ begunMs, latestMs, count }: Tally): number {
  return Math.max(MISSED_MS, (MISSED * (latestMs - begunMs)) / (count - 1));
}

function isRising({ steps, rises }: Tally): boolean {
  return rises > 0 && rises >= RISES_SHARE * steps;
}

/** A board that restarts counts from zero again. */
function isReset(tally: Tally, value: number): boolean {
  if (value < 0 || value >= tally.latest / 4) return false;
  return tally.count <= BEFORE_RESET_MAX || (isRising(tally) && tally.steps >= RESET_AFTER_STEPS);
}
