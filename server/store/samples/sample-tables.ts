import type { Database } from 'better-sqlite3';
import type { EncodedBlock, SignalName } from './open-block.ts';
import { blockId, summaryId } from './sample-ids.ts';

/** A row of `sample_span`: first number, count, from ms, to ms, from mm, to mm. */
export type SpanRow = [number, number, number, number, number, number];

interface JournalRow {
  run_id: number;
  first_number: number;
  count: number;
  from_ms: number;
  to_ms: number;
  from_gauge_mm: number;
  to_gauge_mm: number;
  data: Uint8Array;
}

export type SampleReads = ReturnType<typeof sampleReads>;
export type SampleWrites = ReturnType<typeof sampleWrites>;

/** The statements that read samples. */
export function sampleReads(db: Database) {
  const runExists = db.prepare<[number], number>('SELECT 1 FROM run WHERE id = ?').pluck();
  const thinned = db.prepare<[number], number | null>('SELECT thinned_ms FROM run WHERE id = ?').pluck();
  const movedBy = db.prepare<[number], number>('SELECT moved_by_s FROM run WHERE id = ?').pluck();
  const signals = db.prepare<[number], SignalName>(
    'SELECT name, unit FROM sample_channel WHERE run_id = ? ORDER BY number',
  );
  const spans = db
    .prepare<[number, number], SpanRow>(
      `SELECT first_number, count, from_ms, to_ms, from_gauge_mm, to_gauge_mm FROM sample_span
       WHERE id >= ? AND id < ? ORDER BY id`,
    )
    .raw();
  const block = db.prepare<[number], Uint8Array>('SELECT data FROM sample_block WHERE id = ?').pluck();
  const summary = db.prepare<[number], Uint8Array>('SELECT data FROM sample_summary WHERE id = ?').pluck();
  const summaries = db.prepare<[number, number], { id: number; data: Uint8Array }>(
    'SELECT id, data FROM sample_summary WHERE id >= ? AND id < ? ORDER BY id',
  );
  const journal = db.prepare<[number], JournalRow>('SELECT * FROM sample_journal WHERE run_id = ? ORDER BY id');
  const journalRuns = db.prepare<[], number>('SELECT DISTINCT run_id FROM sample_journal').pluck();
  return {
    runExists: (runId: number): boolean => runExists.get(runId) !== undefined,
    /** When the single readings of a run were deleted, UTC ms; null = they exist. */
    thinnedMs: (runId: number): number | null => thinned.get(runId) ?? null,
    /** What must be added to all stored times of a run, ms: its date was corrected. */
    movedByMs: (runId: number): number => (movedBy.get(runId) ?? 0) * 1000,
    signals: (runId: number): SignalName[] => signals.all(runId),
    /** Spans of a run from a block on. */
    spansFrom: (runId: number, fromBlock: number): SpanRow[] =>
      spans.all(blockId(runId, fromBlock), blockId(runId + 1, 0)),
    block: (runId: number, number: number): Uint8Array | undefined => block.get(blockId(runId, number)),
    /** One column of a page of summaries. */
    summary: (runId: number, level: number, page: number, column: number): Uint8Array | undefined =>
      summary.get(summaryId(runId, level, page, column)),
    /** All columns of a page of summaries. */
    summaryColumns(runId: number, level: number, page: number): { column: number; data: Uint8Array }[] {
      const first = summaryId(runId, level, page, 0);
      return summaries
        .all(first, summaryId(runId, level, page + 1, 0))
        .map(({ id, data }) => ({ column: id - first, data }));
    },
    journalRuns: (): number[] => journalRuns.all(),
    journal: (runId: number): EncodedBlock[] =>
      journal.all(runId).map((row) => ({
        firstNumber: row.first_number,
        count: row.count,
        fromMs: row.from_ms,
        toMs: row.to_ms,
        fromGaugeMm: row.from_gauge_mm,
        toGaugeMm: row.to_gauge_mm,
        data: row.data,
      })),
  };
}

/** The statements that write samples; the caller opens the transaction. */
export function sampleWrites(db: Database) {
  const signal = db.prepare('INSERT INTO sample_channel (run_id, number, name, unit) VALUES (?, ?, ?, ?)');
  const span = db.prepare('INSERT INTO sample_span VALUES (?, ?, ?, ?, ?, ?, ?)');
  const block = db.prepare('INSERT INTO sample_block VALUES (?, ?)');
  const summary = db.prepare('INSERT INTO sample_summary VALUES (?, ?)');
  const journal = db.prepare(
    `INSERT INTO sample_journal (run_id, first_number, count, from_ms, to_ms, from_gauge_mm, to_gauge_mm, data)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const unjournal = db.prepare('DELETE FROM sample_journal WHERE run_id = ? AND first_number < ?');
  return {
    signal: (runId: number, number: number, { name, unit }: SignalName): void => {
      signal.run(runId, number, name, unit);
    },
    block(runId: number, number: number, b: EncodedBlock): void {
      const id = blockId(runId, number);
      span.run(id, b.firstNumber, b.count, b.fromMs, b.toMs, b.fromGaugeMm, b.toGaugeMm);
      block.run(id, b.data);
    },
    summary: (runId: number, level: number, page: number, column: number, data: Uint8Array): void => {
      summary.run(summaryId(runId, level, page, column), data);
    },
    journal: (runId: number, b: EncodedBlock): void => {
      journal.run(runId, b.firstNumber, b.count, b.fromMs, b.toMs, b.fromGaugeMm, b.toGaugeMm, b.data);
    },
    /** Deletes journal rows that start before a reading. */
    unjournal: (runId: number, before: number): void => {
      unjournal.run(runId, before);
    },
  };
}
