import { firstIndex } from '../../probability/first-index.ts';
import { LENGTH_MM_MAX, TIME_MS_MAX } from '../bounds.ts';
import { BLOCK } from './block-format.ts';
import { GROUP } from './column-format.ts';
import type { EncodedBlock } from './open-block.ts';
import type { SampleReads } from './sample-tables.ts';

/** The ranges of the stored blocks of a run, in memory. A refresh reads only the blocks that were written since. */
export class RunIndex {
  /** Stored blocks. */
  blocks = 0;
  firstNumber = new Float64Array(64);
  /** Readings before each block, with one more entry for the end. */
  before = new Float64Array(65);
  /** Groups before each block, with one more entry for the end. */
  groupsBefore = new Float64Array(65);
  fromMs = new Float64Array(64);
  toMs = new Float64Array(64);
  fromGaugeMm = new Float64Array(64);
  toGaugeMm = new Float64Array(64);

  refresh(reads: SampleReads, runId: number): void {
    const rows = reads.spansFrom(runId, this.blocks);
    this.#reserve(this.blocks + rows.length);
    for (const [first, count, fromMs, toMs, fromGaugeMm, toGaugeMm] of rows) {
      const b = this.blocks++;
      this.firstNumber[b] = first;
      // A damaged number, which the daily check reports, must not become the length or the duration of the run, and memory
      // is reserved by the counts.
      const held = Number.isInteger(count) ? Math.min(Math.max(count, 1), BLOCK) : 1;
      this.before[b + 1] = this.before[b]! + held;
      this.groupsBefore[b + 1] = this.groupsBefore[b]! + Math.ceil(held / GROUP);
      const [afterMs, afterMm] = b === 0 ? [0, -LENGTH_MM_MAX] : [this.toMs[b - 1]!, this.toGaugeMm[b - 1]!];
      this.fromMs[b] = within(afterMs, fromMs, TIME_MS_MAX) ?? within(afterMs, toMs, TIME_MS_MAX) ?? afterMs;
      this.toMs[b] = within(this.fromMs[b]!, toMs, TIME_MS_MAX) ?? this.fromMs[b]!;
      this.fromGaugeMm[b] =
        within(afterMm, fromGaugeMm, LENGTH_MM_MAX) ?? within(afterMm, toGaugeMm, LENGTH_MM_MAX) ?? afterMm;
      this.toGaugeMm[b] = within(this.fromGaugeMm[b]!, toGaugeMm, LENGTH_MM_MAX) ?? this.fromGaugeMm[b]!;
    }
  }

  #reserve(blocks: number): void {
    const capacity = this.fromMs.length;
    if (blocks <= capacity) return;
    const grow = (old: Float64Array, more = 0) => {
      const grown = new Float64Array(Math.max(capacity * 2, blocks) + more);
      grown.set(old);
      return grown;
    };
    this.firstNumber = grow(this.firstNumber);
    this.before = grow(this.before, 1);
    this.groupsBefore = grow(this.groupsBefore, 1);
    this.fromMs = grow(this.fromMs);
    this.toMs = grow(this.toMs);
    this.fromGaugeMm = grow(this.fromGaugeMm);
    this.toGaugeMm = grow(this.toGaugeMm);
  }
}

const within = (least: number, value: number, most: number): number | null =>
  value >= least && value <= most ? value : null;

/** The blocks of a run for one query: those on disk, then those in memory. */
export class BlockList {
  readonly runId: number;
  /** Number of blocks that are read from disk. */
  readonly stored: number;
  readonly length: number;
  readonly extras: readonly EncodedBlock[];
  /** When the stored readings were deleted, UTC ms: only their summaries are left. null = they exist. */
  readonly thinnedMs: number | null;
  readonly #index: RunIndex;
  readonly #extrasBefore: number[] = [];
  readonly #extrasGroupsBefore: number[] = [];

  constructor(runId: number, index: RunIndex, extras: readonly EncodedBlock[], thinnedMs: number | null) {
    this.runId = runId;
    this.thinnedMs = thinnedMs;
    this.#index = index;
    this.extras = extras;
    // A block that was in memory when the query started may be on disk by now: use it only once.
    let stored = index.blocks;
    const firstExtra = extras[0]?.firstNumber ?? Number.POSITIVE_INFINITY;
    while (stored > 0 && index.firstNumber[stored - 1]! >= firstExtra) stored--;
    this.stored = stored;
    this.length = stored + extras.length;
    let before = index.before[stored]!;
    let groups = index.groupsBefore[stored]!;
    for (const extra of extras) {
      this.#extrasBefore.push(before);
      this.#extrasGroupsBefore.push(groups);
      before += extra.count;
      groups += Math.ceil(extra.count / GROUP);
    }
    this.#extrasBefore.push(before);
    this.#extrasGroupsBefore.push(groups);
  }

  /** Readings before a block; for the block after the last one, all readings. */
  before(block: number): number {
    return block < this.stored ? this.#index.before[block]! : this.#extrasBefore[block - this.stored]!;
  }

  /** Groups before a block; a block that is not full ends with a shorter group. */
  groupsBefore(block: number): number {
    return block < this.stored ? this.#index.groupsBefore[block]! : this.#extrasGroupsBefore[block - this.stored]!;
  }

  /** Groups in blocks on disk. */
  get storedGroups(): number {
    return this.groupsBefore(this.stored);
  }

  /** The block, from `low` on, that holds a group of the run. */
  blockOfGroup(group: number, low = 0): number {
    return firstIndex(low, this.length, (block) => this.groupsBefore(block + 1) > group);
  }

  count(block: number): number {
    return this.before(block + 1) - this.before(block);
  }

  fromMs(block: number): number {
    return block < this.stored ? this.#index.fromMs[block]! : this.extras[block - this.stored]!.fromMs;
  }

  toMs(block: number): number {
    return block < this.stored ? this.#index.toMs[block]! : this.extras[block - this.stored]!.toMs;
  }

  fromGaugeMm(block: number): number {
    return block < this.stored ? this.#index.fromGaugeMm[block]! : this.extras[block - this.stored]!.fromGaugeMm;
  }

  toGaugeMm(block: number): number {
    return block < this.stored ? this.#index.toGaugeMm[block]! : this.extras[block - this.stored]!.toGaugeMm;
  }

  /** The first block, from `low` on, whose last reading is at or beyond `at` (`after`: beyond it). */
  find(axis: 'time' | 'length', at: number, after: boolean, low = 0): number {
    return firstIndex(low, this.length, (block) => {
      const last = axis === 'time' ? this.toMs(block) : this.toGaugeMm(block);
      return after ? last > at : last >= at;
    });
  }
}
