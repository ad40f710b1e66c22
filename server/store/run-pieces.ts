import type { Database } from 'better-sqlite3';
import type { SampleColumns } from '../monitor/ports/samples.ts';
import { firstIndex } from '../probability/first-index.ts';
import { BlockCache, type DamageListener } from './samples/block-cache.ts';
import { FIRST_SIGNAL, GAUGE_COLUMN, TIME_COLUMN } from './samples/block-format.ts';
import { BlockList, RunIndex } from './samples/run-index.ts';
import { moved, readingsDeleted } from './samples/sample-queries.ts';
import { sampleReads } from './samples/sample-tables.ts';

export type RunPieces = ReturnType<typeof runPieces>;

/**
 * Reads a run in pieces of a given number of readings, so that a piece is never larger because the line stood still. For a run
 * in progress it reads what is on disk: everything but the last second.
 */
export function runPieces(db: Database, damaged: DamageListener) {
  const reads = sampleReads(db);
  const cache = new BlockCache(reads, damaged);
  const openRun = db.transaction((runId: number) => {
    const index = new RunIndex();
    index.refresh(reads, runId);
    const list = new BlockList(runId, index, reads.journal(runId), reads.thinnedMs(runId));
    return { list, names: reads.signals(runId).map(({ name }) => name), movedByMs: reads.movedByMs(runId) };
  });

  /**
   * Returns readings `first` to `first + count − 1`, or fewer at the end of the run. Missing values are NaN; an unknown signal
   * has only NaN.
   * @throws Problem `readings-thinned`
   */
  return (runId: number, first: number, count: number, signals: readonly string[]): SampleColumns => {
    const { list, names, movedByMs } = openRun(runId);
    if (list.thinnedMs !== null) throw readingsDeleted(runId, list.thinnedMs);
    const beyond = Math.min(first + count, list.before(list.length));
    const block = blockOf(list, first);
    const blank = () => new Float64Array(Math.max(0, beyond - first)).fill(Number.NaN);
    const read = (column: number): Float64Array => cache.guarded(runId, () => readOnce(column));
    const readOnce = (column: number): Float64Array => {
      const out = blank();
      for (let b = block; b < list.length && list.before(b) < beyond; b++) {
        const whole = new Float64Array(list.count(b)).fill(Number.NaN);
        const view = cache.block(list, b);
        if (view !== null) view.column(column)?.all(whole, 0);
        else if (column === TIME_COLUMN) whole.fill(list.fromMs(b));
        else if (column === GAUGE_COLUMN) whole.fill(list.fromGaugeMm(b));
        const at = list.before(b) - first;
        out.set(whole.subarray(Math.max(0, -at), Math.max(0, beyond - list.before(b))), Math.max(0, at));
      }
      return out;
    };
    // No prototype: a signal may be named `__proto__`.
    const values: Record<string, Float64Array> = Object.create(null);
    for (const name of new Set(signals)) {
      const number = names.indexOf(name);
      values[name] = number < 0 ? blank() : read(FIRST_SIGNAL + number);
    }
    return { timeMs: moved(read(TIME_COLUMN), movedByMs), gaugeMm: read(GAUGE_COLUMN), values };
  };
}

/** The block that holds a reading. */
function blockOf(list: BlockList, number: number): number {
  return firstIndex(0, list.length, (block) => list.before(block + 1) > number);
}
