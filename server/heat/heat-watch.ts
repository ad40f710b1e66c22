import { type Layout, type Reading, valueAt, type ZoneColumns } from '../reading/reading.ts';
import type { ExpectedThen } from './expected-past.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { HeatLimits, ZoneStatus } from './zone-status.ts';
import { ZoneWatch } from './zone-watch.ts';

/** Rules look this often, in reading time, ms. */
const TICK_MS = 200;
/** A pause longer than this is a gap in the line: what was seen before it says nothing of now, ms. */
const GAP_MS = 10_000;
/** A line that sends less often than every few seconds has its own measure: this many of its usual spacings. */
const GAP_SPACINGS = 4;

/**
 * What each zone is doing, and when it is not doing what it should.
 *
 *     reading ─► trace a zone (1 mean a second) ─► rules (one fault a file) ─► ZoneStatus
 *
 * Cheap for every reading; the rules run five times a second (fast ones) and once a second (slow ones) of reading time.
 * Takes no time but that of the readings, and keeps no more than the last 96 s.
 */
export class HeatWatch {
  #limits: HeatLimits;
  #layout: Layout | null = null;
  /** The zones of the layout, with the columns that their readings come from. */
  #watched: readonly { readonly watch: ZoneWatch; readonly columns: ZoneColumns }[] = [];
  /** The same zones in the same order. */
  #watches: readonly ZoneWatch[] = [];
  readonly #known = new Map<number, ZoneWatch>();
  #statuses: readonly ZoneStatus[] = [];
  #lastMs = Number.NaN;
  #spacingMs = 0;
  #nextTickMs = Number.NEGATIVE_INFINITY;
  #secondMs = Number.NaN;

  #kept: ReadonlyMap<number, ThermalModel>;

  /** `kept`: what earlier evenings have taught of each zone. */
  constructor(limits: HeatLimits, kept: ReadonlyMap<number, ThermalModel> = new Map()) {
    this.#limits = limits;
    this.#kept = kept;
  }

  /** What is known of each zone now. */
  models(): ReadonlyMap<number, ThermalModel> {
    const models = new Map(this.#kept);
    for (const [zone, watch] of this.#known) if (watch.model !== null) models.set(zone, watch.model);
    return models;
  }

  /** Where each zone's reading was expected over the last ten minutes, oldest first. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return new Map([...this.#known].map(([zone, watch]) => [zone, watch.expectedPast()]));
  }

  setLimits(limits: HeatLimits): void {
    this.#limits = limits;
  }

  /** What was learnt counts no more: the line was rebuilt. */
  forget(): void {
    this.#kept = new Map();
    for (const watch of this.#known.values()) watch.takeModel(null);
  }

  /** Every reading, in order. The same array comes back while nothing changed; ascending by zone. */
  step(reading: Reading): readonly ZoneStatus[] {
    const { timeMs } = reading;
    if (reading.layout !== this.#layout) this.#takeLayout(reading.layout);
    this.#watchTime(reading);
    for (const { watch, columns } of this.#watched) {
      watch.add(
        timeMs,
        valueAt(reading, columns.temperature),
        valueAt(reading, columns.setpoint),
        valueAt(reading, columns.power),
        valueAt(reading, columns.fault),
      );
    }
    if (timeMs >= this.#nextTickMs) this.#tick(timeMs);
    return this.#statuses;
  }

  #takeLayout(layout: Layout): void {
    this.#layout = layout;
    this.#watched = layout.zones.map((columns) => ({ watch: this.#watchOf(columns.zone), columns }));
    this.#watches = this.#watched.map(({ watch }) => watch);
    this.#statuses = this.#watches.map((watch) => watch.status);
  }

  #watchOf(zone: number): ZoneWatch {
    const known = this.#known.get(zone);
    if (known !== undefined) return known;
    const watch = new ZoneWatch(zone);
    watch.takeModel(this.#kept.get(zone) ?? null);
    this.#known.set(zone, watch);
    return watch;
  }

  #watchTime(reading: Reading): void {
    const sinceMs = reading.timeMs - this.#lastMs;
    this.#lastMs = reading.timeMs;
    const gap = sinceMs < 0 || sinceMs > Math.max(GAP_MS, GAP_SPACINGS * this.#spacingMs);
    if (gap || reading.restarted) {
      for (const watch of this.#known.values()) watch.rearm();
      this.#secondMs = Number.NaN;
      this.#nextTickMs = Number.NEGATIVE_INFINITY;
    }
    if (sinceMs >= 0) this.#spacingMs += (Math.min(sinceMs, 60_000) - this.#spacingMs) * 0.1;
  }

  #tick(timeMs: number): void {
    this.#nextTickMs = timeMs + TICK_MS;
    if (Number.isNaN(this.#secondMs)) this.#secondMs = timeMs;
    const seconds = Math.floor((timeMs - this.#secondMs) / 1000);
    this.#secondMs += seconds * 1000;
    let changed = false;
    const watches = this.#watches;
    for (let i = 0; i < watches.length; i++) {
      const watch = watches[i]!;
      watch.tick(this.#limits, timeMs);
      if (seconds > 0) {
        const lower = differenceK(watch, watches[i - 1]);
        const upper = differenceK(watch, watches[i + 1]);
        const hotterK = Math.max(0, lower) + Math.max(0, upper);
        const colderK = Math.max(0, -lower) + Math.max(0, -upper);
        watch.second(seconds, timeMs, hotterK, colderK);
      }
      if (watch.tell()) changed = true;
    }
    if (changed) this.#statuses = watches.map((watch) => watch.status);
  }
}

/** Kelvins by which the neighbour is hotter; 0 where there is none. */
function differenceK(zone: ZoneWatch, neighbour: ZoneWatch | undefined): number {
  const hotter = (neighbour?.trace.temperatureC ?? Number.NaN) - zone.trace.temperatureC;
  return Number.isNaN(hotter) ? 0 : hotter;
}
