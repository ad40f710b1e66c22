/**
 * The truth behind the readings: what really happened on the simulated line, when, and where on the strand and the spool.
 *
 * Lengths are *gauge lengths*: strand that has passed the gauge since the start. The spool position of an event is where the
 * strand between its two gauge lengths was wound. It is known only when that strand has reached the winder.
 */

import { STRAND_STEP_S } from './steps.ts';

export type TruthKind =
  // stages
  | 'heating'
  | 'purging'
  | 'winding'
  | 'stopped'
  // on the strand
  | 'blob'
  | 'neck'
  | 'thin-stretch'
  | 'off-tolerance'
  | 'contaminant'
  | 'strand-break'
  | 'oversize'
  | 'undersize'
  // in the feed and the mechanics
  | 'damp-feed'
  | 'bridging'
  | 'surging'
  | 'roller-run-out'
  // in the heat
  | 'power-lost'
  | 'switch-stuck'
  | 'sensor-open'
  | 'sensor-short'
  | 'sensor-slipped'
  | 'frozen-reading'
  | 'loose-sensor'
  | 'zone-disturbance'
  | 'set-point-change'
  // in gauge, device and cable
  | 'gauge-frozen'
  | 'gauge-slipped-out'
  | 'gauge-short-range'
  | 'gauge-wrong-readings'
  | 'counter-slip'
  | 'new-sketch'
  | 'noisy-cable'
  | 'device-restart';

export interface TruthEvent {
  readonly kind: TruthKind;
  /** Simulated time at the gauge, s; `toS` is null until it ends. */
  readonly fromS: number;
  readonly toS: number | null;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number | null;
  /** First spool = 1; null = not wound (yet). */
  readonly spool: number | null;
  readonly fromSpoolMm: number | null;
  readonly toSpoolMm: number | null;
  /** True diameter at the worst place, as it passed the gauge; null = the event is not about the diameter. */
  readonly peakMm: number | null;
  /** 1 = nearest the hopper; null = the event is not about a zone. */
  readonly zone: number | null;
  readonly note: string;
}

/** Whether the worst diameter of an event is its largest, its least, or none. */
export type PeakSense = 'largest' | 'least' | 'none';

class Entry {
  kind: TruthKind;
  fromS: number | null = null;
  toS: number | null = null;
  fromGaugeMm: number;
  toGaugeMm: number | null = null;
  spool: number | null = null;
  fromSpoolMm: number | null = null;
  toSpoolMm: number | null = null;
  peakMm: number | null = null;
  zone: number | null;
  note: string;
  sense: PeakSense;
  passedWinder = false;
  settled = false;

  constructor(kind: TruthKind, fromGaugeMm: number, sense: PeakSense, zone: number | null, note: string) {
    this.kind = kind;
    this.fromGaugeMm = fromGaugeMm;
    this.sense = sense;
    this.zone = zone;
    this.note = note;
  }

  event(): TruthEvent {
    const { kind, toS, fromGaugeMm, toGaugeMm, spool, fromSpoolMm, toSpoolMm, peakMm, zone, note } = this;
    const fromS = round(this.fromS ?? 0);
    return {
      kind,
      fromS,
      toS: toS === null ? null : round(toS),
      fromGaugeMm: round(fromGaugeMm),
      toGaugeMm: toS === null || toGaugeMm === null ? null : round(toGaugeMm),
      spool,
      fromSpoolMm: fromSpoolMm === null ? null : round(fromSpoolMm),
      toSpoolMm: toSpoolMm === null ? null : round(toSpoolMm),
      peakMm: peakMm === null ? null : round(peakMm),
      zone,
      note,
    };
  }
}

function round(value: number): number {
  return Math.round(value * 1000) / 1000;
}

/** Handle of an event that has not ended. */
export type OpenEvent = Entry;

/** State of the line after a strand step. */
export interface StrandState {
  readonly timeS: number;
  /** Gauge length now, and its increase in this step. */
  readonly gaugeMm: number;
  readonly stepMm: number;
  /** True diameter at the gauge; 0 = no strand. */
  readonly diameterMm: number;
  /** Gauge length of the strand at the winder. */
  readonly winderMm: number;
  readonly winding: boolean;
  readonly spool: number;
  readonly woundMm: number;
}

export class TruthLog {
  readonly #onSettled: ((event: TruthEvent) => void) | undefined;
  readonly #all: Entry[] = [];
  #waiting: Entry[] = [];
  #atGauge: Entry[] = [];
  #nextGaugeMm = Number.POSITIVE_INFINITY;
  #nextWinderMm = Number.POSITIVE_INFINITY;
  #lastSpool = 0;
  #lastWoundMm = 0;

  /** @param onSettled called once for each event, when it is complete */
  constructor(onSettled?: (event: TruthEvent) => void) {
    this.#onSettled = onSettled;
  }

  /** Start an event at the gauge that continues until `end`. */
  start(
    kind: TruthKind,
    timeS: number,
    gaugeMm: number,
    details: { zone?: number; note?: string; sense?: PeakSense } = {},
  ): OpenEvent {
    const entry = new Entry(kind, gaugeMm, details.sense ?? 'none', details.zone ?? null, details.note ?? '');
    entry.fromS = timeS;
    this.#add(entry);
    if (entry.sense !== 'none') this.#atGauge.push(entry);
    return entry;
  }

  end(entry: OpenEvent, timeS: number, gaugeMm: number): void {
    entry.toS = timeS;
    entry.toGaugeMm = Math.max(gaugeMm, entry.fromGaugeMm);
    this.#atGauge = this.#atGauge.filter((other) => other !== entry);
    this.#nextWinderMm = Math.min(this.#nextWinderMm, entry.toGaugeMm);
  }

  /** Add an event on strand that has not reached the gauge yet; `endPiece` may set its end later. */
  addPiece(kind: TruthKind, fromMm: number, toMm: number | null, sense: PeakSense, note: string): OpenEvent {
    const entry = new Entry(kind, fromMm, sense, null, note);
    entry.toGaugeMm = toMm;
    this.#add(entry);
    this.#nextGaugeMm = Math.min(this.#nextGaugeMm, fromMm);
    return entry;
  }

  endPiece(entry: OpenEvent, toMm: number): void {
    entry.toGaugeMm = toMm;
    this.#nextGaugeMm = Math.min(this.#nextGaugeMm, toMm);
  }

  /** One strand step. */
  step(now: StrandState): void {
    if (now.gaugeMm >= this.#nextGaugeMm) this.#passGauge(now);
    for (const entry of this.#atGauge) {
      if (now.diameterMm <= 0) continue;
      if (entry.peakMm === null) entry.peakMm = now.diameterMm;
      else if (entry.sense === 'largest' ? now.diameterMm > entry.peakMm : now.diameterMm < entry.peakMm) {
        entry.peakMm = now.diameterMm;
      }
    }
    if (now.spool !== this.#lastSpool) this.#newSpool(now);
    if (now.winderMm >= this.#nextWinderMm) this.#passWinder(now);
    this.#lastWoundMm = now.woundMm;
  }

  /** Every event that has started at the gauge, in the order of their creation. */
  events(): TruthEvent[] {
    return this.#all.filter((entry) => entry.fromS !== null).map((entry) => entry.event());
  }

  /** Settle every event that has started, at the end of the simulation. Events that have not ended keep null as their end. */
  finish(): void {
    for (const entry of this.#waiting) if (entry.fromS !== null) this.#settle(entry);
    this.#waiting = [];
  }

  #add(entry: Entry): void {
    this.#all.push(entry);
    this.#waiting.push(entry);
    this.#nextWinderMm = Math.min(this.#nextWinderMm, entry.fromGaugeMm);
  }

  #passGauge(now: StrandState): void {
    // The strand moves evenly within a step.
    const timeAt = (placeMm: number) =>
      now.timeS - (now.stepMm > 0 ? Math.min(1, (now.gaugeMm - placeMm) / now.stepMm) * STRAND_STEP_S : 0);
    this.#nextGaugeMm = Number.POSITIVE_INFINITY;
    for (const entry of this.#waiting) {
      if (entry.fromS === null && entry.fromGaugeMm <= now.gaugeMm) {
        entry.fromS = timeAt(entry.fromGaugeMm);
        if (entry.sense !== 'none') this.#atGauge.push(entry);
      }
      const toMm = entry.toGaugeMm;
      if (entry.fromS !== null && entry.toS === null && toMm !== null && toMm <= now.gaugeMm) {
        entry.toS = timeAt(toMm);
        this.#atGauge = this.#atGauge.filter((other) => other !== entry);
      }
      if (entry.fromS === null) this.#nextGaugeMm = Math.min(this.#nextGaugeMm, entry.fromGaugeMm);
      else if (entry.toS === null && toMm !== null) this.#nextGaugeMm = Math.min(this.#nextGaugeMm, toMm);
    }
  }

  #passWinder(now: StrandState): void {
    let next = Number.POSITIVE_INFINITY;
    for (const entry of this.#waiting) {
      if (!entry.passedWinder && entry.fromGaugeMm <= now.winderMm) {
        entry.passedWinder = true;
        if (now.winding) this.#onSpool(entry, now, now.woundMm - (now.winderMm - entry.fromGaugeMm));
      }
      const toMm = entry.toGaugeMm;
      if (entry.passedWinder && entry.toS !== null && toMm !== null && toMm <= now.winderMm) {
        if (entry.fromSpoolMm !== null && entry.toSpoolMm === null) {
          const here = now.winding && entry.spool === now.spool;
          entry.toSpoolMm = Math.max(entry.fromSpoolMm, here ? now.woundMm - (now.winderMm - toMm) : now.woundMm);
        }
        this.#settle(entry);
      } else {
        next = Math.min(next, entry.passedWinder ? (toMm ?? Number.POSITIVE_INFINITY) : entry.fromGaugeMm);
      }
    }
    this.#nextWinderMm = next;
    this.#waiting = this.#waiting.filter((entry) => !entry.settled);
  }

  /** An event across a change of spool ends at the end of the old one; one across the first start begins at zero. */
  #newSpool(now: StrandState): void {
    for (const entry of this.#waiting) {
      if (!entry.passedWinder) continue;
      if (entry.fromSpoolMm === null) this.#onSpool(entry, now, 0);
      else if (entry.spool === this.#lastSpool && entry.toSpoolMm === null) entry.toSpoolMm = this.#lastWoundMm;
    }
    this.#lastSpool = now.spool;
  }

  #onSpool(entry: Entry, now: StrandState, atMm: number): void {
    entry.spool = now.spool;
    entry.fromSpoolMm = Math.max(0, atMm);
  }

  #settle(entry: Entry): void {
    if (entry.settled) return;
    entry.settled = true;
    this.#onSettled?.(entry.event());
  }
}
