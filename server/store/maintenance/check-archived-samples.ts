import type { Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { isTime, LENGTH_MM_MAX } from '../record/stored-shapes.ts';
import { BLOCK, BlockView } from '../samples/block-format.ts';
import { blockId, SIGNALS_MAX, summaryId } from '../samples/sample-ids.ts';

/** Beyond it, the ids of summaries are no longer exact numbers. */
export const RUN_ID_MAX = Math.floor(Number.MAX_SAFE_INTEGER / summaryId(1, 0, 0, 0)) - 1;

interface Span {
  readonly id: number;
  readonly first_number: number;
  readonly count: number;
  readonly from_ms: number;
  readonly to_ms: number;
  readonly from_gauge_mm: number;
  readonly to_gauge_mm: number;
}

/**
 * Checks that the index of an archive's readings agrees with its blocks. Memory is reserved by these counts whenever a run
 * is read.
 * @returns the first fault, with its table and row; null = none
 */
export function checkArchivedSamples(archive: Database, runId: number): string | null {
  const numbers = archive
    .prepare<[number], number>('SELECT number FROM sample_channel WHERE run_id = ? ORDER BY number')
    .pluck()
    .all(runId);
  const misplaced = numbers.findIndex((number, i) => number !== i || i >= SIGNALS_MAX);
  if (misplaced >= 0) return `table sample_channel, row ${numbers[misplaced]}: signals must be numbered from 0`;
  const thinned = archive.prepare('SELECT thinned_ms IS NOT NULL FROM run WHERE id = ?').pluck().get(runId) === 1;
  const block = archive.prepare<[number], Uint8Array>('SELECT data FROM sample_block WHERE id = ?').pluck();
  const spans = archive.prepare<[number, number], Span>(
    'SELECT * FROM sample_span WHERE id >= ? AND id < ? ORDER BY id',
  );
  let next = 0;
  let before: Span | null = null;
  let i = 0;
  for (const span of spans.iterate(blockId(runId, 0), blockId(runId + 1, 0))) {
    const fault = faultOfSpan(span, { id: blockId(runId, i), first: next, before });
    if (fault !== null) return `table sample_span, row ${span.id}: ${fault}`;
    const data = block.get(span.id);
    if (data === undefined && !thinned) return `table sample_span, row ${span.id}: its readings are missing`;
    if (data !== undefined) {
      const held = countOf(data);
      if (held !== span.count)
        return `table sample_span, row ${span.id}: it counts ${span.count} readings, its block holds ${held}`;
    }
    next += span.count;
    before = span;
    i++;
  }
  return null;
}

function faultOfSpan(span: Span, due: { id: number; first: number; before: Span | null }): string | null {
  const { id, first_number, count, from_ms, to_ms, from_gauge_mm, to_gauge_mm } = span;
  if (id !== due.id) return 'a block before it is missing';
  if (!(Number.isInteger(count) && count >= 1 && count <= BLOCK)) return `a block cannot hold ${count} readings`;
  if (first_number !== due.first) return `it begins with reading ${first_number}, not with ${due.first}`;
  if (!(isTime(from_ms) && isTime(to_ms) && from_ms <= to_ms)) return 'its times are impossible';
  const lengths = [from_gauge_mm, to_gauge_mm];
  if (!lengths.every((mm) => Math.abs(mm) <= LENGTH_MM_MAX) || from_gauge_mm > to_gauge_mm)
    return 'its lengths are impossible';
  const { before } = due;
  if (before !== null && (from_ms < before.to_ms || from_gauge_mm < before.to_gauge_mm))
    return 'it begins before the end of the block before it';
  return null;
}

function countOf(data: Uint8Array): number | string {
  try {
    return new BlockView(data).count;
  } catch (thrown) {
    return `none that can be read (${messageOf(thrown)})`;
  }
}
