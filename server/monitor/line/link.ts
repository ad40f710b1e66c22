import type { Unreadable } from '../../alarm/conditions.ts';
import { messageOf } from '../../problem/problem.ts';
import type { ReadingIntake } from '../../reading/intake.ts';
import type { IntakeSink, Learnt } from '../../reading/intake-options.ts';
import type { LinkCounters } from '../../reading/link-counters.ts';
import type { Reading } from '../../reading/reading.ts';
import type { Shape } from '../../reading/shape.ts';
import type { LinkStatus, Source } from '../../source/source.ts';
import type { Clock } from '../clock.ts';
import type { LinkContents } from '../incoming.ts';
import type { Log } from '../log.ts';
import { RateWatch } from './rate-watch.ts';

export interface FirmwareNote {
  readonly timeMs: number;
  readonly text: string;
}

/** What the alarm conditions need of the link. */
export interface LinkState {
  readonly timing: 'live' | 'recorded';
  readonly status: LinkStatus;
  /** Readings a second, over the last ten; a reading may take several lines. */
  readonly readingsPerS: number;
  /** Share of the lines that were dropped over the last ten seconds, 0…1; a reading may take several lines. */
  readonly droppedShare: number;
  /** What arrived in the last ten seconds without any readable line; null = readable lines, or nothing. */
  readonly unreadable: Unreadable | null;
  /** A user has released the port, or did until a moment ago: that nothing arrives is intended. */
  readonly isReleased: boolean;
}

/** What pages show of the link. */
export interface LinkSnapshot extends LinkState {
  readonly sourceTitle: string;
  /** null = a real line, live. */
  readonly playback: NonNullable<Source['playback']> | null;
  /** Since the last reading line; null before the first. */
  readonly silentForS: number | null;
  readonly shape: Shape | null;
  readonly checksum: 'none' | 'optional' | 'required';
  readonly counters: LinkCounters;
  /** The last notes of the firmware, newest first. */
  readonly notes: readonly FirmwareNote[];
  readonly lastLine: string;
}

export interface LinkListener {
  reading(reading: Reading): void;
  /** The lines that arrived together have all been taken; how many. */
  linesTaken(lines: number): void;
  note(note: FirmwareNote): void;
  status(status: LinkStatus): void;
  /** A sentence for the operators' log. */
  remark(what: string): void;
}

const LINE_FEED = 10;
const NOTES_KEPT = 20;
const NAMES_TOLD_MAX = 3;
/** Before so many lines have come, titles and rules that a sketch prints beside its readings are not told from damage. */
const LINES_TO_KNOW = 50;
const TRAFFIC_S = 10;
/** A board that always prints in bunches must not fill the log. */
const SPREAD_REPORTED_EVERY_MS = 3_600_000;
/** More bytes than this without a readable line are no accident. */
const GARBAGE_BYTES = 200;

/** A board that restarts when its port is opened needs this long to print its first line (common practice, no source), ms. */
const RESTART_MS = 10_000;
/** At a wrong baud rate about half of the bytes are printable; of a language with umlauts nearly all. */
const TEXT_SHARE = 0.8;

interface SecondOfTraffic {
  bytes: number;
  notes: number;
  received: number;
  readings: number;
  dropped: number;
}

/** A source and the intake that reads its lines. A new address or new reading rules need a new link. */
export class Link {
  readonly #source: Source;
  #intake: ReadingIntake;
  readonly #clock: Clock;
  readonly #log: Log;
  readonly #listener: LinkListener;
  readonly #rateWatch: RateWatch;
  readonly #sink: IntakeSink = {
    reading: (reading) => {
      this.#lastReadingMs = this.#bytesMs;
      this.#releaseEndedMs = null;
      this.#rateWatch.forget();
      this.#listener.reading(reading);
    },
    note: (text, timeMs) => {
      const note = { timeMs, text };
      this.#notes = [note, ...this.#notes.slice(0, NOTES_KEPT - 1)];
      this.#listener.note(note);
    },
    forgot: (names) => {
      const named = names.slice(0, NAMES_TOLD_MAX).join(', ');
      const more = names.length - NAMES_TOLD_MAX;
      this.#listener.remark(
        `The line has sent too many names. Forgot those not sent for a day: ${named}${more > 0 ? ` and ${more} more` : ''}.`,
      );
    },
  };
  #status: LinkStatus = { phase: 'closed', text: 'Not started.' };
  #startedMs = 0;
  /** When the bytes being read arrived. */
  #bytesMs = 0;
  #lastReadingMs: number | null = null;
  #notes: FirmwareNote[] = [];
  #traffic: SecondOfTraffic[] = [];
  #second = 0;
  #previousTotals = { notes: 0, received: 0, readings: 0, dropped: 0 };
  #bytes = 0;
  #arrivedLines = 0;
  #passedLines = 0;
  /** Share of printable bytes lately, 0…1. */
  #textShare = 1;
  /** When a release of the port ended; null = never, or readings have arrived since. */
  #releaseEndedMs: number | null = null;
  #stopped = false;
  #spreadReported = 0;
  #spreadReportedMs = Number.NEGATIVE_INFINITY;

  /** @param clock ms, any origin, never set: it only measures how long something has lasted */
  constructor(source: Source, intake: ReadingIntake, clock: Clock, log: Log, listener: LinkListener) {
    this.#source = source;
    this.#intake = intake;
    this.#clock = clock;
    this.#log = log;
    this.#listener = listener;
    this.#rateWatch = new RateWatch(source, clock, (baud) =>
      log.info(`Text arrives at ${baud} baud`, { source: source.title }),
    );
  }

  get isUnusable(): boolean {
    return this.#source.isUnusable ?? false;
  }

  get isMissing(): boolean {
    return this.#source.isMissing ?? false;
  }

  get timing(): 'live' | 'recorded' {
    return this.#source.timing;
  }

  /** The line keeps running while the service is stopped. */
  get resumable(): boolean {
    return this.#source.resumable;
  }

  get title(): string {
    return this.#source.title;
  }

  start(): void {
    this.#startedMs = this.#clock();
    this.#source.start({
      bytes: (chunk, arrivalMs) => {
        if (this.#stopped) return;
        this.#bytes += chunk.length;
        this.#bytesMs = this.#clock();
        this.#followText(chunk);
        const lines = lineEnds(chunk);
        this.#arrivedLines += lines;
        const arrivedLines = this.#arrivedLines;
        this.#intake.push(chunk, arrivalMs, this.#sink);
        // Not reached if a step fails. Lines that were dropped as unreadable have passed as well.
        this.#passedLines = arrivedLines;
        this.#listener.linesTaken(lines);
      },
      opened: () => this.#intake.opened(),
      status: (status) => {
        if (this.#status.phase === 'released' && status.phase !== 'released') this.#releaseEndedMs = this.#clock();
        // A sketch that is flashed while the port is released may print at another rate.
        if (status.phase === 'released') this.#rateWatch.forget();
        this.#status = status;
        this.#listener.status(status);
      },
    });
  }

  /** Read what arrives from now on by other rules. The connection stays open, because opening resets many boards. */
  useIntake(create: (learnt: Learnt) => ReadingIntake): void {
    this.#intake = create(this.#intake.learnt);
    this.#intake.opened();
    this.#previousTotals = totals(this.#intake.counters());
    this.#traffic = [];
    this.#spreadReported = 0;
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    if (this.timing === 'live') this.#intake.clockMoved(byMs);
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    try {
      await this.#source.stop();
    } catch (thrown) {
      const why = messageOf(thrown);
      this.#log.error('The source did not stop cleanly', { source: this.title, why });
      this.#listener.remark(`The ${this.title} did not stop. ${why}`);
    }
  }

  /**
   * Counts the traffic of each second; call it several times a second.
   * @param nowMs the clock, or in a replay the time of the readings
   */
  tick(nowMs: number): void {
    const second = Math.floor(nowMs / 1000);
    if (second === this.#second) return;
    this.#second = second;
    const now = totals(this.#intake.counters());
    this.#traffic = [
      ...this.#traffic.slice(-(TRAFFIC_S - 1)),
      {
        bytes: this.#bytes,
        notes: now.notes - this.#previousTotals.notes,
        received: now.received - this.#previousTotals.received,
        readings: now.readings - this.#previousTotals.readings,
        dropped: now.dropped - this.#previousTotals.dropped,
      },
    ];
    this.#previousTotals = now;
    this.#bytes = 0;
    this.#reportSpread();
    this.#rateWatch.check({
      isNoText: this.state().unreadable === 'bytes',
      quietForS: this.quietForS(),
      hadReadings: this.#lastReadingMs !== null,
    });
  }

  #reportSpread(): void {
    const nowMs = this.#clock();
    const readings = this.#intake.spreadReadings - this.#spreadReported;
    if (readings <= 0 || nowMs - this.#spreadReportedMs < SPREAD_REPORTED_EVERY_MS) return;
    this.#spreadReported = this.#intake.spreadReadings;
    this.#spreadReportedMs = nowMs;
    this.#listener.remark(
      `${readings} readings had waited and arrived at once. Their lines have no clock, so their times are not certain.`,
    );
  }

  snapshot(): LinkSnapshot {
    return {
      ...this.state(),
      sourceTitle: this.#source.title,
      playback: this.#source.playback ?? null,
      silentForS: this.silentForS(),
      shape: this.#intake.shape,
      checksum: this.#intake.checksum,
      counters: this.#intake.counters(),
      notes: this.#notes,
      lastLine: this.#intake.lastLine,
    };
  }

  contents(): LinkContents {
    return {
      shape: this.#intake.shape,
      readingsPerS: this.state().readingsPerS,
      lastLine: this.#intake.lastLine,
      fields: this.#intake.seenFields(),
      dropped: this.#intake.droppedLines,
      isNoText: this.state().unreadable === 'bytes',
      lacksLineEnds: this.state().unreadable === 'noLineEnds',
      baud: this.#rateWatch.state,
    };
  }

  /** How much of what comes is text, as long as no line can be read. */
  #followText(chunk: Uint8Array): void {
    if (this.quietForS() < 1) return;
    let printable = 0;
    for (const byte of chunk) if ((byte >= 32 && byte < 127) || byte === 10 || byte === 13 || byte === 9) printable++;
    this.#textShare += (printable / chunk.length - this.#textShare) * Math.min(1, chunk.length / 500);
  }

  /**
   * Release the port to other programs for so long, ms.
   * @returns resolves when it is closed; null = there is none to release
   */
  release(forMs: number): Promise<void> | null {
    return this.#source.release?.(forMs) ?? null;
  }

  /** Use a released port again now. @returns false = there is none to release */
  resume(): boolean {
    this.#source.resume?.();
    return this.#source.resume !== undefined;
  }

  #unreadable(sum: Omit<SecondOfTraffic, 'dropped'>): Unreadable | null {
    if (this.#rateWatch.isWrong) return 'bytes';
    if (sum.bytes <= GARBAGE_BYTES || sum.readings > 0 || sum.notes > 0) return null;
    if (this.#textShare < TEXT_SHARE) return 'bytes';
    return sum.received === 0 ? 'noLineEnds' : 'lines';
  }

  state(): LinkState {
    const sum = { bytes: 0, notes: 0, received: 0, readings: 0, dropped: 0 };
    for (const second of this.#traffic) {
      sum.bytes += second.bytes;
      sum.notes += second.notes;
      sum.received += second.received;
      sum.readings += second.readings;
      sum.dropped += second.dropped;
    }
    const seconds = Math.max(1, this.#traffic.length);
    return {
      timing: this.#source.timing,
      status: this.#status,
      readingsPerS: sum.readings / seconds,
      droppedShare: this.#droppedShare(sum),
      unreadable: this.#unreadable(sum),
      isReleased: this.#isReleased(),
    };
  }

  #droppedShare({ dropped, received, notes }: Pick<SecondOfTraffic, 'dropped' | 'received' | 'notes'>): number {
    if (this.#intake.counters().received < LINES_TO_KNOW) return 0;
    return dropped / Math.max(1, dropped, received - notes);
  }

  /** The time that a board needs to restart belongs to the release. */
  #isReleased(): boolean {
    if (this.#status.phase === 'released') return true;
    return this.#releaseEndedMs !== null && this.#clock() - this.#releaseEndedMs < RESTART_MS;
  }

  /** Reading lines that arrived, and how many of them all steps have taken; counted from the start of this link. */
  get lines(): { readonly arrivedLines: number; readonly passedLines: number } {
    return { arrivedLines: this.#arrivedLines, passedLines: this.#passedLines };
  }

  /** Restarts of the device since this link was created. */
  get restarts(): number {
    return this.#intake.restarts;
  }

  /** Seconds since the last reading, or since the start if there was none. */
  quietForS(): number {
    return (this.#clock() - (this.#lastReadingMs ?? this.#startedMs)) / 1000;
  }

  silentForS(): number | null {
    return this.#lastReadingMs === null ? null : (this.#clock() - this.#lastReadingMs) / 1000;
  }
}

function lineEnds(chunk: Uint8Array): number {
  let ends = 0;
  for (let at = chunk.indexOf(LINE_FEED); at >= 0; at = chunk.indexOf(LINE_FEED, at + 1)) ends++;
  return ends;
}

function totals(counters: LinkCounters) {
  const dropped = Object.values(counters.dropped).reduce((a, b) => a + b, 0);
  return { notes: counters.notes, received: counters.received, readings: counters.readings, dropped };
}
