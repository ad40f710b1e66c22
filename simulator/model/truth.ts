/**
 * The truth beside the readings: what really happened on the simulated line, when, and where on strand and spool.
 *
 * Lengths are *gauge lengths*: strand that has passed the gauge since the simulation's start. An event's spool position
 * is where the strand between its two gauge lengths was in fact wound; it is known only once the winder has it.
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
  | 'noisy-cable'
  | 'device-restart';

export interface TruthEvent {
  readonly kind: TruthKind;
  /** Simulated seconds at the gauge; `toS` is null while it lasts. */
  readonly fromS: number;
  readonly toS: number | null;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number | null;
  /** First spool = 1; null where nothing of it was wound (yet). */
  readonly spool: number | null;
  readonly fromSpoolMm: number | null;
  readonly toSpoolMm: number | null;
  /** True diameter at the worst place, as it passed the gauge; null where the event is none of the strand's diameter. */
  readonly peakMm: number | null;
  /** 1 = nearest the hopper; null where the event is none of a zone's. */
  readonly zone: number | null;
  readonly note: string;
}

/** Which diameter of an event is its worst: the largest, the least, or none. */
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

/** Handle of an event that is not over. */
export type OpenEvent = Entry;

/** What the truth is told each strand step. */
export interface StrandMoment {
  readonly timeS: number;
  /** Gauge length now, and what of it came with this step. */
  readonly gaugeMm: number;
  readonly stepMm: number;
  /** True diameter at the gauge; 0 = no strand. */
  readonly diameterMm: number;
  /** Gauge length of what is at the winder now. */
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

  /** @param onSettled is called once for each event, when nothing more can become known of it */
  constructor(onSettled?: (event: TruthEvent) => void) {
    this.#onSettled = onSettled;
  }

  /** An event that begins now at the gauge and lasts until `end`. */
  begin(
    kind: TruthKind,
    timeS: number,
    gaugeMm: number,
    about: { zone?: number; note?: string; sense?: PeakSense } = {},
  ): OpenEvent {
    const entry = new Entry(kind, gaugeMm, about.sense ?? 'none', about.zone ?? null, about.note ?? '');
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

  /** An event of a piece of strand that is still before the gauge; its end may come later by `closePiece`. */
  piece(kind: TruthKind, fromMm: number, toMm: number | null, sense: PeakSense, note: string): OpenEvent {
    const entry = new Entry(kind, fromMm, sense, null, note);
    entry.toGaugeMm = toMm;
    this.#add(entry);
    this.#nextGaugeMm = Math.min(this.#nextGaugeMm, fromMm);
    return entry;
  }

  closePiece(entry: OpenEvent, toMm: number): void {
    entry.toGaugeMm = toMm;
    this.#nextGaugeMm = Math.min(this.#nextGaugeMm, toMm);
  }

  /** One strand step. */
  step(now: StrandMoment): void {
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

  /** Every event that has begun at the gauge, in the order in which it became known. */
  events(): TruthEvent[] {
    return this.#all.filter((entry) => entry.fromS !== null).map((entry) => entry.event());
  }

  /** Settles whatever has begun: nothing more will come. Events that last keep null as their end. */
  finish(): void {
    for (const entry of this.#waiting) if (entry.fromS !== null) this.#settle(entry);
    this.#waiting = [];
  }

  #add(entry: Entry): void {
    this.#all.push(entry);
    this.#waiting.push(entry);
    this.#nextWinderMm = Math.min(this.#nextWinderMm, entry.fromGaugeMm);
  }

  #passGauge(now: StrandMoment): void {
    // Within the step the strand moved evenly.
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

  #passWinder(now: StrandMoment): void {
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

  /** What straddles the change of a spool ends with the old one's last millimetre; what straddles the first start begins with the first. */
  #newSpool(now: StrandMoment): void {
    for (const entry of this.#waiting) {
      if (!entry.passedWinder) continue;
      if (entry.fromSpoolMm === null) this.#onSpool(entry, now, 0);
      else if (entry.spool === this.#lastSpool && entry.toSpoolMm === null) entry.toSpoolMm = this.#lastWoundMm;
    }
    this.#lastSpool = now.spool;
  }

  #onSpool(entry: Entry, now: StrandMoment, atMm: number): void {
    entry.spool = now.spool;
    entry.fromSpoolMm = Math.max(0, atMm);
  }

  #settle(entry: Entry): void {
    if (entry.settled) return;
    entry.settled = true;
    this.#onSettled?.(entry.event());
  }
}
