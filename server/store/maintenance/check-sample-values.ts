import type { Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { LENGTH_MM_MAX } from '../bounds.ts';
import { ABANDONED_MS } from '../record/bin.ts';
import { isTime } from '../record/stored-shapes.ts';
import { BLOCK, BlockView, FIRST_SIGNAL, GAUGE_COLUMN, TIME_COLUMN } from '../samples/block-format.ts';
import { blockId, placeOfSummary, SIGNALS_MAX, summaryId } from '../samples/sample-ids.ts';
import { fieldsOfLevel } from '../samples/summary.ts';
import { PageView } from '../samples/summary-page.ts';

/** Beyond it, the ids of summaries are no longer exact numbers. */
export const RUN_ID_MAX = Math.floor(Number.MAX_SAFE_INTEGER / summaryId(1, 0, 0, 0)) - 1;
/** What the blocks of a run can hold. */
const READINGS_MAX = blockId(1, 0) * BLOCK;

/** Where readings lie: a row of `sample_span` or of `sample_journal`. */
interface Span {
  readonly first_number: number;
  readonly count: number;
  readonly from_ms: number;
  readonly to_ms: number;
  readonly from_gauge_mm: number;
  readonly to_gauge_mm: number;
}

/**
 * Checks that the index of a run's readings agrees with its blocks. Memory is reserved by these counts whenever a run is
 * read.
 * @returns the first fault, with its table and row; null = none
 */
export function faultOfSamples(db: Database, runId: number): string | null {
  const numbers = db
    .prepare<[number], number>('SELECT number FROM sample_channel WHERE run_id = ? ORDER BY number')
    .pluck()
    .all(runId);
  const misplaced = numbers.findIndex((number, i) => number !== i || i >= SIGNALS_MAX);
  if (misplaced >= 0) return `table sample_channel, row ${numbers[misplaced]}: signals must be numbered from 0`;
  const run = db
    .prepare<[number], { mayLack: number; binned: number; movedByMs: number }>(
      `SELECT thinned_ms IS NOT NULL OR deleted_ms <= ${ABANDONED_MS} AS mayLack,
         deleted_ms IS NOT NULL AS binned, moved_by_s * 1000 AS movedByMs
       FROM run WHERE id = ?`,
    )
    .get(runId);
  const block = db.prepare<[number], Uint8Array>('SELECT data FROM sample_block WHERE id = ?').pluck();
  const spans = db.prepare<[number, number], Span & { readonly id: number }>(
    'SELECT * FROM sample_span WHERE id >= ? AND id < ? ORDER BY id',
  );
  let before: Span | null = null;
  let due = blockId(runId, 0);
  for (const span of spans.iterate(due, blockId(runId + 1, 0))) {
    const place = `table sample_span, row ${span.id}`;
    // The bin is emptied from the first block on.
    const isNext = span.id === due || (before === null && run?.binned === 1);
    if (!isNext) return `${place}: a block before it is missing`;
    const fault = faultOfSpan(span, before, run?.movedByMs);
    if (fault !== null) return `${place}: ${fault}`;
    const data = block.get(span.id);
    if (data === undefined && run?.mayLack !== 1) return `${place}: its readings are missing`;
    if (data !== undefined) {
      const wrong = faultOfData(span, data);
      if (wrong !== null) return `${place}: ${wrong}`;
    }
    before = span;
    due = span.id + 1;
  }
  return faultOfSummaries(db, runId);
}

/** Checks the readings of a run that are in no block yet. @returns as `faultOfSamples` */
export function faultOfJournal(db: Database, runId: number): string | null {
  const rows = db.prepare<[number], Span & { readonly id: number; readonly data: Uint8Array }>(
    'SELECT * FROM sample_journal WHERE run_id = ? ORDER BY id',
  );
  let before = db
    .prepare<[number, number], Span>('SELECT * FROM sample_span WHERE id >= ? AND id < ? ORDER BY id DESC LIMIT 1')
    .get(blockId(runId, 0), blockId(runId + 1, 0));
  for (const row of rows.iterate(runId)) {
    const fault = faultOfSpan(row, before ?? null) ?? faultOfData(row, row.data);
    if (fault !== null) return `table sample_journal, row ${row.id}: ${fault}`;
    before = row;
  }
  return null;
}

const isLength = (mm: number): boolean => Math.abs(mm) <= LENGTH_MM_MAX;

function faultOfSpan(span: Span, before: Span | null, movedByMs = 0): string | null {
  const { first_number, count, from_ms, to_ms, from_gauge_mm, to_gauge_mm } = span;
  if (!(Number.isInteger(count) && count >= 1 && count <= BLOCK)) return `a block cannot hold ${count} readings`;
  if (!(Number.isInteger(first_number) && first_number >= 0 && first_number <= READINGS_MAX))
    return `its readings cannot begin with number ${first_number}`;
  const times = [from_ms, to_ms];
  if (!times.every((ms) => isTime(ms) && isTime(ms + movedByMs)) || from_ms > to_ms) return 'its times are impossible';
  const lengths = [from_gauge_mm, to_gauge_mm];
  if (!lengths.every(isLength) || from_gauge_mm > to_gauge_mm) return 'its lengths are impossible';
  if (before === null) return null;
  // Numbers may be left out: a full disk dropped the readings in between.
  const next = before.first_number + before.count;
  if (first_number < next || from_ms < before.to_ms || from_gauge_mm < before.to_gauge_mm)
    return 'it begins before the end of the block before it';
  return null;
}

/**
 * Decodes all of a block. A checksum shows that it is what its writer made, and not that a query can read it: its writer may
 * have been anyone.
 */
function faultOfData(span: Span, data: Uint8Array): string | null {
  return faultOfDecoding(() => {
    const view = new BlockView(data);
    if (view.count !== span.count) return `it counts ${span.count} readings, its block holds ${view.count}`;
    const values = new Float64Array(view.count);
    for (const number of new Set([TIME_COLUMN, GAUGE_COLUMN, ...view.columnNumbers])) {
      const column = view.column(number);
      if (column === undefined) return 'its block lacks times or lengths';
      column.all(values, 0);
      if (number === TIME_COLUMN && !rises(values, span.from_ms, span.to_ms))
        return 'the times in its block are not its own';
      if (number === GAUGE_COLUMN && !rises(values, span.from_gauge_mm, span.to_gauge_mm))
        return 'the lengths in its block are not its own';
    }
    return null;
  });
}

/** Whether the values go from one to the other and never back. */
function rises(values: Float64Array, from: number, to: number): boolean {
  return values[0] === from && values.at(-1) === to && values.every((value, i) => i === 0 || value >= values[i - 1]!);
}

/** Decodes all summaries of a run, which a query reads without their blocks. */
function faultOfSummaries(db: Database, runId: number): string | null {
  const rows = db.prepare<[number, number], { readonly id: number; readonly data: Uint8Array }>(
    'SELECT id, data FROM sample_summary WHERE id >= ? AND id < ?',
  );
  for (const { id, data } of rows.iterate(summaryId(runId, 0, 0, 0), summaryId(runId + 1, 0, 0, 0))) {
    const { level, column } = placeOfSummary(id);
    const fault = faultOfDecoding(() => {
      const view = new PageView(data);
      const isAxis = column < FIRST_SIGNAL;
      if (view.fields !== (isAxis ? 1 : fieldsOfLevel(level).length)) return 'it has other fields';
      for (let f = 0; f < view.fields; f++) view.field(f);
      const isPossible = column === TIME_COLUMN ? isTime : isLength;
      return isAxis && !view.field(0).every(isPossible) ? 'its times or lengths are impossible' : null;
    });
    if (fault !== null) return `table sample_summary, row ${id}: ${fault}`;
  }
  return null;
}

/** @param decode returns what is wrong; null = nothing */
function faultOfDecoding(decode: () => string | null): string | null {
  try {
    return decode();
  } catch (thrown) {
    return `it cannot be read (${messageOf(thrown)})`;
  }
}
