import { type Layout, type Reading, valueAt, type ZoneColumns } from '../reading/reading.ts';
import type { ExpectedThen } from './expected-past.ts';
import type { FaultVisibility } from './fault-visibility.ts';
import type { ZoneResponse } from './learnt-zone.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { HeatLimits, ZoneStatus } from './zone-status.ts';
import { ZoneWatch } from './zone-watch.ts';

/** The rules run this often, in reading time, ms. */
const TICK_MS = 200;
/** A longer pause is a gap: earlier readings then say nothing about the present, ms. */
const GAP_MS = 10_000;
/** On a line that sends only every few seconds, a gap is this many of its usual intervals. */
const GAP_SPACINGS = 4;

/**
 * What each zone is doing, and which faults it has.
 *
 *     reading ─► trace of each zone (one mean per second) ─► rules (one fault per file) ─► ZoneStatus
 *
 * Fast rules run five times a second, slow ones once a second, both in reading time. Only the last four minutes are kept.
 */
export class HeatWatch {
  #limits: HeatLimits;
  #layout: Layout | null = null;
  /** The zones of the layout, with the columns that their readings come from. */
  #watched: readonly { readonly watch: ZoneWatch; readonly columns: ZoneColumns }[] = [];
  readonly #known = new Map<number, ZoneWatch>();
  #statuses: readonly ZoneStatus[] = [];
  #lastMs = Number.NaN;
  #spacingMs = 0;
  #nextTickMs = Number.NEGATIVE_INFINITY;
  #secondMs = Number.NaN;
  #kept: ReadonlyMap<number, ThermalModel>;

  /** `kept`: the model of each zone that was learnt earlier. */
  constructor(limits: HeatLimits, kept: ReadonlyMap<number, ThermalModel> = new Map()) {
    this.#limits = limits;
    this.#kept = kept;
  }

  /** The current model of each zone that has one. */
  models(): ReadonlyMap<number, ThermalModel> {
    const models = new Map(this.#kept);
    for (const [zone, watch] of this.#known) if (watch.model !== null) models.set(zone, watch.model);
    return models;
  }

  /** Where each zone's reading was expected over the last ten minutes, oldest first. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return new Map([...this.#known].map(([zone, watch]) => [zone, watch.expectedPast()]));
  }

  /** How soon faults can be seen, of each zone whose model has been learnt. */
  visibilities(): ReadonlyMap<number, FaultVisibility> {
    return new Map(
      [...this.#known].flatMap(([zone, watch]) => {
        const visibility = watch.visibility();
        return visibility === null ? [] : [[zone, visibility] as const];
      }),
    );
  }

  setLimits(limits: HeatLimits): void {
    this.#limits = limits;
  }

  /** Forgets all models, because the line was rebuilt. */
  forget(): void {
    this.#kept = new Map();
    for (const watch of this.#known.values()) watch.setModel(null);
  }

  /** Takes every reading, in order. Returns one status per zone, ascending; the same array while nothing changed. */
  step(reading: Reading): readonly ZoneStatus[] {
    const { timeMs } = reading;
    if (reading.layout !== this.#layout) this.#setLayout(reading.layout);
    this.#checkForGap(reading);
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

  #setLayout(layout: Layout): void {
    this.#layout = layout;
    this.#watched = layout.zones.map((columns) => ({ watch: this.#watchOf(columns.zone), columns }));
    this.#statuses = this.#watched.map(({ watch }) => watch.status);
  }

  #watchOf(zone: number): ZoneWatch {
    const known = this.#known.get(zone);
    if (known !== undefined) return known;
    const watch = new ZoneWatch(zone);
    watch.setModel(this.#kept.get(zone) ?? null);
    this.#known.set(zone, watch);
    return watch;
  }

  #checkForGap(reading: Reading): void {
    const sinceMs = reading.timeMs - this.#lastMs;
    this.#lastMs = reading.timeMs;
    const gap = sinceMs < 0 || sinceMs > Math.max(GAP_MS, GAP_SPACINGS * this.#spacingMs);
    if (gap || reading.restarted) {
      for (const watch of this.#known.values()) watch.reset();
      this.#secondMs = Number.NaN;
      this.#nextTickMs = Number.NEGATIVE_INFINITY;
    }
    if (sinceMs >= 0) this.#spacingMs += (Math.min(sinceMs, 60_000) - this.#spacingMs) * 0.1;
  }

  /** How slowly the other zones have responded; null = none has yet. */
  #slowestBeside(one: ZoneWatch): ZoneResponse | null {
    return this.#watched.reduce<ZoneResponse | null>(
      (slowest, { watch }) => (watch === one ? slowest : slower(slowest, watch.response)),
      null,
    );
  }

  #tick(timeMs: number): void {
    this.#nextTickMs = timeMs + TICK_MS;
    if (Number.isNaN(this.#secondMs)) this.#secondMs = timeMs;
    const seconds = Math.floor((timeMs - this.#secondMs) / 1000);
    this.#secondMs += seconds * 1000;
    let changed = false;
    for (const [i, { watch }] of this.#watched.entries()) {
      watch.tick(this.#limits, timeMs);
      if (seconds > 0) {
        const lower = differenceK(watch, this.#watched[i - 1]?.watch);
        const upper = differenceK(watch, this.#watched[i + 1]?.watch);
        const hotterK = Math.max(0, lower) + Math.max(0, upper);
        const colderK = Math.max(0, -lower) + Math.max(0, -upper);
        watch.second(seconds, timeMs, hotterK, colderK, this.#slowestBeside(watch));
      }
      if (watch.updateStatus()) changed = true;
    }
    if (changed) this.#statuses = this.#watched.map(({ watch }) => watch.status);
  }
}

/** The slower in both. */
function slower(a: ZoneResponse | null, b: ZoneResponse | null): ZoneResponse | null {
  if (a === null || b === null) return a ?? b;
  return { rateKPerS: Math.min(a.rateKPerS, b.rateKPerS), lastsS: Math.max(a.lastsS, b.lastsS) };
}

/** By how much the neighbour is hotter, K; 0 where there is none. */
function differenceK(zone: ZoneWatch, neighbour: ZoneWatch | undefined): number {
  const hotter = (neighbour?.temperatureC ?? Number.NaN) - zone.temperatureC;
  return Number.isNaN(hotter) ? 0 : hotter;
}
