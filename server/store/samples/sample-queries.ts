import type { Database } from 'better-sqlite3';
import type {
  LastSample,
  SampleColumns,
  SampleExtent,
  WindowColumns,
  WindowQuery,
} from '../../monitor/ports/samples.ts';
import { firstIndex } from '../../probability/first-index.ts';
import { Problem } from '../../problem/problem.ts';
import { BlockCache, type DamageListener } from './block-cache.ts';
import { FIRST_SIGNAL, GAUGE_COLUMN, TIME_COLUMN } from './block-format.ts';
import type { SignalName } from './open-block.ts';
import { BlockList, RunIndex } from './run-index.ts';
import type { LiveTail } from './sample-appender.ts';
import { type SampleReads, sampleReads } from './sample-tables.ts';
import { windowColumns } from './window.ts';

const COLUMNS_MAX = 4000;
/** Runs whose index is cached; an index takes about 50 bytes per block. */
const INDEXES_MAX = 16;

export type { SampleColumns };

interface Look {
  readonly list: BlockList;
  readonly names: readonly SignalName[];
  readonly movedByMs: number;
}

/**
 * Answers all queries of readings from one connection and from what the writer still holds in memory (`tail`; null in a
 * process that only reads, which uses the journal instead).
 */
export class SampleQueries {
  readonly #db: Database;
  readonly #reads: SampleReads;
  readonly #cache: BlockCache;
  readonly #indexes = new Map<number, RunIndex>();

  constructor(db: Database, damaged: DamageListener) {
    this.#db = db;
    this.#reads = sampleReads(db);
    this.#cache = new BlockCache(this.#reads, damaged);
  }

  window(query: WindowQuery, tail: LiveTail | null): WindowColumns {
    checkWindow(query);
    // One transaction for all blocks is twice as fast as one for each. It takes milliseconds.
    return this.#ofRun(query.runId, () => {
      const { list, names, movedByMs } = this.#look(query.runId, tail);
      const { axis, from, to } = query;
      const stored = axis === 'time' ? { ...query, from: from - movedByMs, to: to - movedByMs } : query;
      const columns = windowColumns(stored, list, this.#cache, numbersOf(names));
      if (movedByMs === 0) return columns;
      return { ...columns, from, to, timeMs: columns.timeMs.map((ms) => (ms === null ? null : ms + movedByMs)) };
    });
  }

  extent(runId: number, tail: LiveTail | null): SampleExtent | null {
    const { list, names, movedByMs } = this.#inSnapshot(() => this.#look(runId, tail));
    const last = list.length - 1;
    if (last < 0) return null;
    return {
      count: list.before(list.length),
      fromMs: list.fromMs(0) + movedByMs,
      toMs: list.toMs(last) + movedByMs,
      fromGaugeMm: list.fromGaugeMm(0),
      toGaugeMm: list.toGaugeMm(last),
      signals: names.map(({ name, unit }) => ({ name, unit })),
    };
  }

  readings(
    runId: number,
    fromGaugeMm: number,
    toGaugeMm: number,
    signals: readonly string[],
    tail: LiveTail | null,
  ): SampleColumns {
    if (!(fromGaugeMm <= toGaugeMm)) {
      throw new Problem(
        'bad-window',
        `A stretch from ${fromGaugeMm} mm to ${toGaugeMm} mm ends before it starts.`,
        'Give the smaller length first.',
      );
    }
    return this.#ofRun(runId, () => this.#readings(this.#look(runId, tail), fromGaugeMm, toGaugeMm, signals));
  }

  #readings(
    { list, names, movedByMs }: Look,
    fromGaugeMm: number,
    toGaugeMm: number,
    signals: readonly string[],
  ): SampleColumns {
    if (list.thinnedMs !== null) throw readingsDeleted(list.runId, list.thinnedMs);
    const numberOf = numbersOf(names);
    const first = list.find('length', fromGaugeMm, false);
    const beyond = Math.min(list.find('length', toGaugeMm, true, first) + 1, list.length);
    const n = list.before(beyond) - list.before(first);
    const read = (column: number | undefined) => this.#column(list, column, first, beyond, n);
    const gaugeMm = read(GAUGE_COLUMN);
    const start = lowerBound(gaugeMm, fromGaugeMm, false);
    const end = lowerBound(gaugeMm, toGaugeMm, true);
    // No prototype: a signal may be named `__proto__`.
    const values: Record<string, Float64Array> = Object.create(null);
    for (const signal of new Set(signals)) values[signal] = read(numberOf(signal)).subarray(start, end);
    return {
      timeMs: moved(read(TIME_COLUMN).subarray(start, end), movedByMs),
      gaugeMm: gaugeMm.subarray(start, end),
      values,
    };
  }

  last(runId: number, tail: LiveTail | null): LastSample | null {
    const { list, names, movedByMs } = this.#inSnapshot(() => this.#look(runId, tail));
    const block = list.length - 1;
    if (block < 0) return null;
    const values: Record<string, number | null> = Object.create(null);
    names.forEach(({ name }, n) => {
      const value = this.#cache.guarded(runId, () =>
        this.#column(list, FIRST_SIGNAL + n, block, block + 1, list.count(block)).at(-1),
      );
      values[name] = value !== undefined && Number.isFinite(value) ? value : null;
    });
    return { timeMs: list.toMs(block) + movedByMs, gaugeMm: list.toGaugeMm(block), values };
  }

  /** Blocks [first, beyond) of one column. Damaged or unknown values are NaN; the axes stay monotone. */
  #column(list: BlockList, column: number | undefined, first: number, beyond: number, n: number): Float64Array {
    const out = new Float64Array(n).fill(Number.NaN);
    if (column === undefined) return out;
    let at = 0;
    for (let b = first; b < beyond; b++) {
      const view = this.#cache.block(list, b);
      if (view) view.column(column)?.all(out, at);
      else if (column === TIME_COLUMN) out.fill(list.fromMs(b), at, at + list.count(b));
      else if (column === GAUGE_COLUMN) out.fill(list.fromGaugeMm(b), at, at + list.count(b));
      at += list.count(b);
    }
    return out;
  }

  /** The blocks hold times as they were stored. Whoever returns times to a caller adds `movedByMs`. */
  #look(runId: number, tail: LiveTail | null): Look {
    let index = this.#indexes.get(runId);
    if (!index) {
      index = new RunIndex();
      this.#indexes.set(runId, index);
      if (this.#indexes.size > INDEXES_MAX) this.#dropOldestIndex();
    }
    index.refresh(this.#reads, runId);
    const extras = tail ? tail.blocks : this.#reads.journal(runId);
    return {
      list: new BlockList(runId, index, extras, this.#reads.thinnedMs(runId)),
      names: tail ? tail.names : this.#reads.signals(runId),
      movedByMs: this.#reads.movedByMs(runId),
    };
  }

  #dropOldestIndex(): void {
    for (const runId of this.#indexes.keys()) {
      this.#indexes.delete(runId);
      return;
    }
  }

  /** In one snapshot, which is cheaper than one for each block. */
  #ofRun<T>(runId: number, query: () => T): T {
    return this.#inSnapshot(() => this.#cache.guarded(runId, query));
  }

  /** In one snapshot: a block that is sealed in the meantime must appear exactly once. */
  #inSnapshot<T>(read: () => T): T {
    return this.#db.transaction(read)();
  }
}

function numbersOf(names: readonly SignalName[]): (signal: string) => number | undefined {
  const numbers = new Map(names.map(({ name }, n) => [name, FIRST_SIGNAL + n]));
  return (signal) => numbers.get(signal);
}

/** Times as stored → as they count now that the date of the run was corrected. In place. */
export function moved(timeMs: Float64Array, byMs: number): Float64Array {
  if (byMs !== 0) for (let i = 0; i < timeMs.length; i++) timeMs[i]! += byMs;
  return timeMs;
}

/** Only the summaries of the run are left. */
export function readingsDeleted(runId: number, thinnedMs: number): Problem {
  const day = new Date(thinnedMs).toISOString().slice(0, 10);
  return new Problem(
    'readings-thinned',
    `The single readings of run ${runId} were deleted on ${day}, as set for the record.`,
    'Its charts, marked stretches, alarms and notes still exist. A backup from before that day holds the readings.',
  );
}

function checkWindow({ from, to, columns }: WindowQuery): void {
  if (!(Number.isFinite(from) && Number.isFinite(to) && from <= to)) {
    throw new Problem(
      'bad-window',
      `A window from ${from} to ${to} ends before it starts.`,
      'Give two numbers, the smaller one first.',
      { pointer: '/to' },
    );
  }
  if (!(Number.isInteger(columns) && columns >= 1 && columns <= COLUMNS_MAX)) {
    throw new Problem('bad-window', `A window cannot have ${columns} columns.`, `Ask for 1 to ${COLUMNS_MAX}.`, {
      pointer: '/columns',
    });
  }
}

/** Index of the first of rising values that is at or beyond `edge` (`after`: beyond it). */
function lowerBound(rising: Float64Array, edge: number, after: boolean): number {
  return firstIndex(0, rising.length, (i) => (after ? rising[i]! > edge : rising[i]! >= edge));
}
