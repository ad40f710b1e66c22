import type { ExpectedHeat, ReadingsFrame } from '../../server/api/contract/live.ts';
import type { ZoneView } from '../../server/api/contract/live-state.ts';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';

/** Temperature and set-point of one zone, one value per second; null = no reading in that second. */
export interface ZoneTrace {
  readonly timeS: number[];
  readonly temperatureC: (number | null)[];
  readonly setpointC: (number | null)[];
}

/** The range in which a zone's reading was expected, over time. */
export interface ExpectedTrace {
  readonly timeS: number[];
  readonly lowC: number[];
  readonly highC: number[];
}

const EXPECTED_EVERY_S = 2;

/** The last minutes of every zone: the last value of each second. */
export class ZoneHistory {
  readonly #seconds: number;
  readonly #expected = new Map<number, ExpectedTrace>();
  readonly #zones = new Map<number, Map<number, { t: number | null; s: number | null }>>();

  constructor(seconds: number) {
    this.#seconds = seconds;
  }

  clear(): void {
    this.#zones.clear();
  }

  hear(frame: ReadingsFrame): void {
    for (const zone of frame.zones) {
      for (let i = 0; i < frame.timeMs.length; i += 1) {
        const t = zone.temperatureC[i] ?? null;
        const s = zone.setpointC[i] ?? null;
        if (t !== null || s !== null) this.#put(zone.zone, Math.floor(frame.timeMs[i]! / 1000), t, s);
      }
    }
  }

  /** Adds stored values of a zone, from a window along time with the signals `t1`, `s1`, …. */
  fill(zone: number, window: WindowView): void {
    const t = window.signals[`t${zone}`];
    const s = window.signals[`s${zone}`];
    const step = (window.to - window.from) / window.count.length;
    for (let i = 0; i < window.count.length; i += 1) {
      const second = Math.floor((window.from + (i + 0.5) * step) / 1000);
      if (this.#zones.get(zone)?.has(second)) continue;
      const tc = t?.mean[i] ?? null;
      const sc = s?.mean[i] ?? null;
      if (tc !== null || sc !== null) this.#put(zone, second, tc, sc);
    }
  }

  /** Adds the service's history of expected ranges before the first one that is already here. */
  fillExpected(past: ExpectedHeat): void {
    for (const { zone, timeMs, lowC, highC } of past.zones) {
      const known = this.expected(zone);
      const until = known.timeS[0] ?? Number.POSITIVE_INFINITY;
      const n = timeMs.filter((at) => at / 1000 < until).length;
      known.timeS.unshift(...timeMs.slice(0, n).map((at) => at / 1000));
      known.lowC.unshift(...lowC.slice(0, n));
      known.highC.unshift(...highC.slice(0, n));
    }
  }

  expect(zone: ZoneView, timeMs: number): void {
    const { expectedLowC, expectedHighC } = zone;
    const { timeS, lowC, highC } = this.expected(zone.zone);
    const atS = timeMs / 1000;
    // The clock has stepped back. What was expected at later times would keep the band away until they have passed.
    if (atS < (timeS.at(-1) ?? 0) - this.#seconds) for (const values of [timeS, lowC, highC]) values.length = 0;
    if (expectedLowC === null || expectedHighC === null || atS < (timeS.at(-1) ?? 0) + EXPECTED_EVERY_S) return;
    timeS.push(atS);
    lowC.push(expectedLowC);
    highC.push(expectedHighC);
    if (timeS[0]! > atS - this.#seconds) return;
    for (const values of [timeS, lowC, highC]) values.shift();
  }

  expected(zone: number): ExpectedTrace {
    let known = this.#expected.get(zone);
    if (!known) {
      known = { timeS: [], lowC: [], highC: [] };
      this.#expected.set(zone, known);
    }
    return known;
  }

  trace(zone: number, untilMs: number): ZoneTrace {
    const until = Math.floor(untilMs / 1000);
    const seconds = this.#zones.get(zone);
    const out: ZoneTrace = { timeS: [], temperatureC: [], setpointC: [] };
    if (!seconds) return out;
    for (let second = until - this.#seconds; second <= until; second += 1) {
      const value = seconds.get(second);
      if (!value) continue;
      const before = out.timeS.at(-1);
      if (before !== undefined && second - before > 5) {
        out.timeS.push(before + 1);
        out.temperatureC.push(null);
        out.setpointC.push(null);
      }
      out.timeS.push(second);
      out.temperatureC.push(value.t);
      out.setpointC.push(value.s);
    }
    return out;
  }

  #put(zone: number, second: number, t: number | null, s: number | null): void {
    let seconds = this.#zones.get(zone);
    if (!seconds) {
      seconds = new Map();
      this.#zones.set(zone, seconds);
    }
    const old = seconds.get(second);
    seconds.set(second, { t: t ?? old?.t ?? null, s: s ?? old?.s ?? null });
    if (seconds.size > this.#seconds * 1.5) {
      // Also what is later: a corrected clock may have stepped back.
      for (const known of seconds.keys()) if (Math.abs(known - second) > this.#seconds) seconds.delete(known);
    }
  }
}

/**
 * The range to draw for each zone, °C, of equal height so that the traces can be compared: close around the set-points
 * while all zones hold, and from cold to above the hottest while one is far from its set-point.
 */
export function zoneRanges(
  zones: readonly { readonly zone: number; readonly temperatureC: number | null; readonly setpointC: number | null }[],
  lowestC: ReadonlyMap<number, number>,
): Map<number, [number, number]> {
  const CLOSE_K = 20;
  const on = zones.filter((z) => z.setpointC !== null && z.setpointC > 0);
  const close =
    on.length > 0 &&
    on.every(
      (z) =>
        z.temperatureC !== null &&
        Math.abs(z.temperatureC - z.setpointC!) < CLOSE_K * 0.8 &&
        (lowestC.get(z.zone) ?? z.temperatureC) > z.setpointC! - CLOSE_K,
    );
  const top = Math.max(60, ...zones.flatMap((z) => [z.temperatureC ?? 0, z.setpointC ?? 0])) * 1.12;
  return new Map(
    zones.map((z) => [
      z.zone,
      close && z.setpointC !== null && z.setpointC > 0 ? [z.setpointC - CLOSE_K, z.setpointC + CLOSE_K] : [0, top],
    ]),
  );
}
