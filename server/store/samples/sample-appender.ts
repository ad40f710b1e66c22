import type { Database } from 'better-sqlite3';
import type { SampleWriter } from '../../monitor/ports/samples.ts';
import { messageOf } from '../../problem/problem.ts';
import { counted } from '../../problem/sentence.ts';
import type { Reading } from '../../reading/reading.ts';
import { unknownRun } from '../record/runs.ts';
import { asRecordFailing } from '../record-failing.ts';
import { BlockView, FIRST_SIGNAL, GAUGE_COLUMN, TIME_COLUMN } from './block-format.ts';
import { type EncodedBlock, OpenBlock, type SignalName } from './open-block.ts';
import { SIGNALS_MAX } from './sample-ids.ts';
import { type SampleReads, type SampleWrites, sampleReads, sampleWrites } from './sample-tables.ts';
import { restoreTail, type SummaryTail } from './summary-tail.ts';

/** Sealed blocks wait for the next second; beyond this size (only in replay) they are written at once. */
const QUEUE_BYTES = 2 * 2 ** 20;

/** Limit of readings that wait in memory while the disk fails: about three days at 50 readings/s. The oldest are dropped first. */
const WAITING_BYTES_MAX = 64 * 2 ** 20;

/** Called with signals beyond the number that a run can hold; their values are not stored. */
export type LeftOutListener = (what: {
  readonly runId: number;
  readonly names: readonly string[];
  readonly most: number;
}) => void;

/** Readings of a run, one after the other, that were dropped because the disk failed for too long. */
export interface DroppedReadings {
  readonly runId: number;
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
}

/** Called once for each gap, when the readings after it are on disk. */
export type DroppedListener = (what: DroppedReadings) => void;

/** Readings of a run that are not on disk yet. */
export interface LiveTail {
  readonly names: readonly SignalName[];
  /** In order; the stored part ends before the first reading of the first block. */
  readonly blocks: readonly EncodedBlock[];
}

interface RunState {
  readonly runId: number;
  readonly open: OpenBlock;
  tail: SummaryTail;
  /** Number of signals that are stored in the database. */
  namesStored: number;
  /** Readings of the open block that are in the journal. */
  journaled: number;
  /** Sealed blocks that are not on disk yet. */
  queue: EncodedBlock[];
  /** Dropped since the last successful write. */
  dropped: DroppedReadings | null;
}

/**
 * Collects readings and writes them in few, large transactions:
 *
 *   append ─→ open block ──(a row per second)──→ journal
 *                 └─(full)→ queue ──(a second later)──→ block + span + summaries, journal rows deleted
 */
export class SampleAppender implements SampleWriter {
  /** Readings that were dropped because the disk failed for too long. */
  readingsLost = 0;
  readonly #db: Database;
  readonly #path: string;
  readonly #reads: SampleReads;
  readonly #writes: SampleWrites;
  readonly #runs = new Map<number, RunState>();
  readonly #waitingBytesMax: number;
  readonly #leftOut: LeftOutListener;
  readonly #dropped: DroppedListener;
  #current: RunState | null = null;
  #queuedBytes = 0;
  /** The last write failed: only `commit` tries again, once a second, and throws. */
  #failing = false;

  constructor(
    db: Database,
    path: string,
    waitingBytesMax: number = WAITING_BYTES_MAX,
    leftOut: LeftOutListener = () => {},
    dropped: DroppedListener = () => {},
  ) {
    this.#dropped = dropped;
    this.#leftOut = leftOut;
    this.#db = db;
    this.#path = path;
    this.#reads = sampleReads(db);
    this.#writes = sampleWrites(db);
    this.#waitingBytesMax = waitingBytesMax;
  }

  /**
   * Seals what an earlier process left in the journal.
   * @param damaged called once for each run some of whose rows cannot be read; their readings are lost
   */
  recover(damaged: (what: string) => void): void {
    for (const runId of this.#reads.journalRuns()) {
      if (!this.#reads.runExists(runId)) {
        damaged(`readings that were being written belong to run ${runId}, which does not exist`);
        this.#writes.unjournal(runId, Number.MAX_SAFE_INTEGER);
        continue;
      }
      const state = this.#load(runId);
      const faults: unknown[] = [];
      for (const row of this.#reads.journal(runId)) {
        try {
          refill(state.open, new BlockView(row.data));
        } catch (thrown) {
          faults.push(thrown);
        }
        if (state.open.full) this.#seal(state);
      }
      this.#seal(state);
      if (faults.length > 0)
        damaged(`${counted(faults.length, 'row')} of run ${runId}, the first: ${messageOf(faults[0])}`);
      // Delete unreadable rows as well.
      this.#db.transaction(() => {
        this.#write();
        this.#writes.unjournal(runId, Number.MAX_SAFE_INTEGER);
      })();
      this.#written();
    }
  }

  append(runId: number, reading: Reading, gaugeMm: number): void {
    let state = this.#current;
    if (state === null || state.runId !== runId) {
      if (state !== null) this.#seal(state);
      state = this.#runs.get(runId) ?? this.#load(runId);
      this.#current = state;
    }
    state.open.append(reading, gaugeMm);
    if (state.open.full) this.#seal(state);
    if (this.#queuedBytes > QUEUE_BYTES && !this.#failing) this.commit();
  }

  flush(): void {
    for (const state of this.#runs.values()) this.#seal(state);
    this.commit();
  }

  /**
   * Writes everything that waits, in one transaction.
   * @throws RecordFailing if the disk fails; everything still waits, and the next call tries again
   */
  commit(): void {
    if (!this.#hasWork()) return;
    const before = [...this.#runs.values()].map((state) => ({ state, tail: state.tail }));
    try {
      this.#db.transaction(() => this.#write()).immediate();
    } catch (thrown) {
      for (const { state, tail } of before) state.tail = tail;
      this.#failing = true;
      this.#dropOldest();
      throw asRecordFailing(thrown, this.#path);
    }
    this.#failing = false;
    this.#written();
  }

  /** Readings that are not on disk yet; null = none. */
  tailOf(runId: number): LiveTail | null {
    const state = this.#runs.get(runId);
    if (!state) return null;
    const blocks = [...state.queue, ...state.open.snapshot()];
    return { names: state.open.names, blocks };
  }

  #hasWork(): boolean {
    for (const { queue, open, journaled } of this.#runs.values()) {
      if (queue.length > 0 || open.count > journaled) return true;
    }
    return false;
  }

  #load(runId: number): RunState {
    if (!this.#reads.runExists(runId)) throw unknownRun(runId);
    const names = this.#reads.signals(runId);
    const spans = this.#reads.spansFrom(runId, 0);
    const journal = this.#reads.journal(runId);
    const last = spans.at(-1);
    const nextNumber = last ? last[0] + last[1] : 0;
    const open = new OpenBlock(
      names,
      journal[0]?.firstNumber ?? nextNumber,
      last?.[3] ?? Number.NEGATIVE_INFINITY,
      last?.[5] ?? Number.NEGATIVE_INFINITY,
      (left) => this.#leftOut({ runId, names: left, most: SIGNALS_MAX }),
    );
    const state: RunState = {
      runId,
      open,
      tail: restoreTail(this.#reads, runId, spans),
      namesStored: names.length,
      journaled: 0,
      queue: [],
      dropped: null,
    };
    this.#runs.set(runId, state);
    return state;
  }

  #seal(state: RunState): void {
    const { open } = state;
    if (open.count === 0) return;
    const block = open.encode();
    state.queue.push(block);
    this.#queuedBytes += block.data.length;
    open.clear();
    state.journaled = 0;
    if (this.#failing) this.#dropOldest();
  }

  /** Runs in a transaction. Changes of state are completed by `#written`, or undone by `commit`. */
  #write(): void {
    for (const state of this.#runs.values()) {
      const { runId, open, queue } = state;
      if (queue.length === 0 && open.count === state.journaled) continue;
      for (const [i, name] of open.names.slice(state.namesStored).entries()) {
        this.#writes.signal(runId, state.namesStored + i, name);
      }
      if (queue.length > 0) {
        state.tail = state.tail.copy();
        for (const block of queue) {
          this.#writes.block(runId, state.tail.blocks, block);
          state.tail.push(this.#writes, runId, block.data);
        }
        this.#writes.unjournal(runId, open.firstNumber);
      }
      if (open.count > state.journaled) this.#writes.journal(runId, open.encode(state.journaled));
    }
  }

  #written(): void {
    const gaps: DroppedReadings[] = [];
    for (const state of this.#runs.values()) {
      if (state.dropped !== null) gaps.push(state.dropped);
      state.dropped = null;
      state.namesStored = state.open.names.length;
      state.journaled = state.open.count;
      state.queue = [];
      // An earlier run that is completely on disk needs no memory any more.
      if (state !== this.#current && state.open.count === 0) this.#runs.delete(state.runId);
    }
    this.#queuedBytes = 0;
    for (const gap of gaps) this.#dropped(gap);
  }

  #dropOldest(): void {
    for (const state of this.#runs.values()) {
      while (this.#queuedBytes > this.#waitingBytesMax) {
        const block = state.queue.shift();
        if (block === undefined) break;
        this.#queuedBytes -= block.data.length;
        this.readingsLost += block.count;
        const { fromMs, toMs, fromGaugeMm, toGaugeMm, count } = block;
        const before = state.dropped ?? { fromMs, fromGaugeMm, count: 0 };
        state.dropped = {
          runId: state.runId,
          count: before.count + count,
          fromMs: before.fromMs,
          toMs,
          fromGaugeMm: before.fromGaugeMm,
          toGaugeMm,
        };
      }
    }
  }
}

/** Appends decoded readings to an open block. */
function refill(open: OpenBlock, view: BlockView): void {
  const at = open.count;
  const column = new Float64Array(view.count);
  for (const number of view.columnNumbers) {
    view.column(number)?.all(column, 0);
    const target =
      number === TIME_COLUMN
        ? open.timeMs
        : number === GAUGE_COLUMN
          ? open.gaugeMm
          : open.signals[number - FIRST_SIGNAL];
    target?.set(column, at);
  }
  for (const b of view.breaks) open.breaks.push({ ...b, index: b.index + at });
  open.count += view.count;
}
