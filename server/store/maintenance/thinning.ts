import type { Database } from 'better-sqlite3';
import { blockId } from '../samples/sample-ids.ts';
import { sampleReads, sampleWrites } from '../samples/sample-tables.ts';
import { restoreTail } from '../samples/summary-tail.ts';

/** Blocks that one step lets go: some hundred kilobytes, so that nobody waits for it. */
const BLOCKS_A_STEP = 32;

/**
 * Lets the raw readings of old runs go, the oldest run first. Its summaries stay, so that its charts still show every
 * extreme, a group of 256 readings being the finest they tell; sections, alarms, words and the log stay untouched.
 */
export function thinning(db: Database) {
  const reads = sampleReads(db);
  const writes = sampleWrites(db);
  const oldest = db
    .prepare<[number], number>(
      `SELECT id FROM run WHERE ended_ms < ? AND thinned_ms IS NULL
       AND EXISTS (SELECT 1 FROM sample_span WHERE sample_span.id >= run.id * ${blockId(1, 0)}
                   AND sample_span.id < (run.id + 1) * ${blockId(1, 0)}) ORDER BY ended_ms LIMIT 1`,
    )
    .pluck();
  const begun = db
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

  /** What is behind the last full pages is summed up nowhere yet. */
  const begin = db.transaction((runId: number, nowMs: number): void => {
    restoreTail(reads, runId, reads.spansFrom(runId, 0)).close(writes, runId);
    mark.run(Math.round(nowMs), runId);
  });

  return {
    /**
     * One small step. @returns the run that was begun with, or `going` = more of one is to go, or null = nothing to do
     */
    step(endedBeforeMs: number, nowMs: number): { begun: number } | 'going' | null {
      const half = begun.get();
      if (half !== undefined) {
        drop.run(blockId(half, 0), blockId(half + 1, 0), BLOCKS_A_STEP);
        return 'going';
      }
      const next = oldest.get(endedBeforeMs);
      if (next === undefined) return null;
      begin.immediate(next, nowMs);
      return { begun: next };
    },
  };
}
