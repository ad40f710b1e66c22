import type { Layout, Reading } from '../../reading/reading.ts';
import { BLOCK, type BlockColumns, type Break, encodeBlock } from './block-format.ts';
import { GROUP } from './column-format.ts';
import { CHANNELS_MAX } from './sample-ids.ts';

/** Readings of an open block that are encoded at a time: whole groups, few enough that nobody waits for it. */
const PIECE = 4 * GROUP;

export interface ChannelName {
  readonly name: string;
  readonly unit: string;
}

/** An encoded block with its place on both axes. */
export interface EncodedBlock {
  /** Number of its first reading in the run, from 0. */
  readonly firstNumber: number;
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly data: Uint8Array;
}

/**
 * The readings of a run that are in no sealed block yet, in columns. Nothing is allocated for a reading: the columns are
 * filled, encoded, and filled again.
 */
export class OpenBlock implements BlockColumns {
  readonly timeMs = new Float64Array(BLOCK);
  readonly gaugeMm = new Float64Array(BLOCK);
  readonly channels: Float64Array[] = [];
  readonly breaks: Break[] = [];
  /** The run's channels by number; a name keeps its number, whatever layout it comes in. */
  readonly names: ChannelName[];
  count = 0;
  /** Number of the first reading in the run. */
  firstNumber: number;
  readonly #numbers = new Map<string, number>();
  #layout: Layout | null = null;
  /** Where each column of the layout goes. */
  #targets: Float64Array[] = [];
  /** Takes the values of channels that are one too many, and is never looked at. */
  readonly #spill = new Float64Array(BLOCK);
  readonly #leftOut: (names: readonly string[]) => void;
  readonly #toldOf = new Set<string>();
  #lastTenths: number;
  #lastHundredths: number;
  /** What of the readings is encoded already for those who look at them. */
  #pieces: EncodedBlock[] = [];

  /** @param leftOut told of channels beyond what a run can hold, once of each: their values are not kept */
  constructor(
    names: readonly ChannelName[],
    firstNumber: number,
    lastTimeMs: number,
    lastGaugeMm: number,
    leftOut: (names: readonly string[]) => void,
  ) {
    this.#leftOut = leftOut;
    this.names = [];
    this.firstNumber = firstNumber;
    this.#lastTenths = Math.round(lastTimeMs * 10);
    this.#lastHundredths = Math.round(lastGaugeMm * 100);
    for (const { name, unit } of names) this.#addChannel(name, unit);
  }

  get full(): boolean {
    return this.count === BLOCK;
  }

  append(reading: Reading, gaugeMm: number): void {
    if (!Number.isFinite(reading.timeMs) || !Number.isFinite(gaugeMm)) {
      throw new TypeError(`A reading needs a time and a gauge length: got ${reading.timeMs} ms, ${gaugeMm} mm.`);
    }
    if (this.#layout !== reading.layout) this.#useLayout(reading.layout);
    const i = this.count;
    // Times are kept to 0.1 ms, lengths to 0.01 mm; times stay strictly increasing and lengths never fall.
    const tenths = Math.round(reading.timeMs * 10);
    this.#lastTenths = tenths > this.#lastTenths ? tenths : this.#lastTenths + 1;
    this.timeMs[i] = this.#lastTenths / 10;
    const hundredths = Math.round(gaugeMm * 100);
    if (hundredths > this.#lastHundredths) this.#lastHundredths = hundredths;
    this.gaugeMm[i] = this.#lastHundredths / 100;
    const { values } = reading;
    const targets = this.#targets;
    const n = Math.min(values.length, targets.length);
    for (let c = 0; c < n; c++) targets[c]![i] = values[c]!;
    if (reading.lostBefore > 0 || reading.restarted) {
      this.breaks.push({ index: i, lostBefore: reading.lostBefore, restarted: reading.restarted });
    }
    this.count = i + 1;
  }

  /** Encode readings [from, to). */
  encode(from = 0, to = this.count): EncodedBlock {
    const last = to - 1;
    return {
      firstNumber: this.firstNumber + from,
      count: to - from,
      fromMs: this.timeMs[from]!,
      toMs: this.timeMs[last]!,
      fromGaugeMm: this.gaugeMm[from]!,
      toGaugeMm: this.gaugeMm[last]!,
      data: encodeBlock(this, from, to),
    };
  }

  /** All readings in pieces, each encoded once for however many look at it: only the last one grows. */
  snapshot(): EncodedBlock[] {
    const pieces = this.#pieces;
    const last = pieces.at(-1);
    if (last && last.firstNumber + last.count === this.firstNumber + this.count) return [...pieces];
    if (last && last.count < PIECE) pieces.pop();
    for (let from = pieces.length * PIECE; from < this.count; from += PIECE) {
      pieces.push(this.encode(from, Math.min(from + PIECE, this.count)));
    }
    return [...pieces];
  }

  /** Begin anew behind what was in it. */
  clear(): void {
    this.firstNumber += this.count;
    this.count = 0;
    this.breaks.length = 0;
    this.#pieces = [];
    for (const channel of this.channels) channel.fill(Number.NaN);
  }

  #useLayout(layout: Layout): void {
    const leftOut: string[] = [];
    this.#targets = layout.channels.map(({ name, unit }) => {
      const known = this.#numbers.get(name);
      if (known !== undefined) return this.channels[known]!;
      if (this.channels.length < CHANNELS_MAX) return this.channels[this.#addChannel(name, unit)]!;
      if (!this.#toldOf.has(name)) leftOut.push(name);
      this.#toldOf.add(name);
      return this.#spill;
    });
    this.#layout = layout;
    if (leftOut.length > 0) this.#leftOut(leftOut);
  }

  #addChannel(name: string, unit: string): number {
    const number = this.channels.length;
    this.channels.push(new Float64Array(BLOCK).fill(Number.NaN));
    this.names.push({ name, unit });
    this.#numbers.set(name, number);
    return number;
  }
}
