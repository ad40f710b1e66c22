import type { Database } from 'better-sqlite3';
import { blockId } from '../samples/sample-ids.ts';
import { sampleReads, sampleWrites } from '../samples/sample-tables.ts';
import { restoreTail } from '../samples/summary-tail.ts';

/** Blocks that one step deletes: a few hundred kilobytes, so that nothing else is delayed. */
const BLOCKS_A_STEP = 32;

/**
 * Deletes the single readings of old runs, in the order in which they were recorded: the clock may date a new one decades ago. Summaries stay, so that charts still show every extreme, in
 * groups of 256 readings at best. Sections, alarms, users' statements and the log stay untouched.
 */
export function thinning(db: Database) {
  const reads = sampleReads(db);
  const writes = sampleWrites(db);
  const oldest = db
    .prepare<[number], number>(
      `SELECT id FROM run WHERE ended_ms < ? AND thinned_ms IS NULL AND deleted_ms IS NULL
       AND EXISTS (SELECT 1 FROM sample_span WHERE sample_span.id >= run.id * ${blockId(1, 0)}
                   AND sample_span.id < (run.id + 1) * ${blockId(1, 0)}) ORDER BY id LIMIT 1`,
    )
    .pluck();
  const started = db
    .prepare<[], number>(
      `SELECT id FROM run WHERE thinned_ms IS NOT NULL
       AND EXISTS (SELECT 1 FROM sample_block WHERE sample_block.id >= run.id * ${blockId(1, 0)}
                   AND sample_block.id < (run.id + 1) * ${blockId(1, 0)}) LIMIT 1`,
    )
    .pluck();
  const mark = db.prepare('UPDATE run SET thinned_ms = ? WHERE id = ?');
  const drop = db.prepare(
    'DELETE FROM sample_block WHERE id IN (SELECT id FROM sample_block WHERE id >= ? AND id < ? ORDER BY id LIMIT ?)',
  );

  /** First writes summaries of the readings behind the last full pages: they have none yet. */
  const start = db.transaction((runId: number, nowMs: number): void => {
    restoreTail(reads, runId, reads.spansFrom(runId, 0)).close(writes, runId);
    mark.run(Math.round(nowMs), runId);
  });

  return {
    /**
     * One small step. @returns the run that it starts with; `more` = a started run has more to delete; null = nothing to do
     */
    step(endedBeforeMs: number, nowMs: number): { startedRunId: number } | 'more' | null {
      const unfinished = started.get();
      if (unfinished !== undefined) {
        drop.run(blockId(unfinished, 0), blockId(unfinished + 1, 0), BLOCKS_A_STEP);
        return 'more';
      }
      const next = oldest.get(endedBeforeMs);
      if (next === undefined) return null;
      start.immediate(next, nowMs);
      return { startedRunId: next };
    },
  };
}
