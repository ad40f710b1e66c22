import type { SampleColumns, SampleReader } from '../../monitor/ports/samples.ts';
import { Problem } from '../../problem/problem.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { openEncoding, rowBuffers } from './encoding.ts';
import type { ExportRows, ExportTable } from './export-table.ts';

/** Readings that are held in memory at once. Larger row groups make a smaller Parquet file. */
export const ROWS_PER_PIECE: Readonly<Record<ExportFormat, number>> = { csv: 10_000, jsonl: 10_000, parquet: 50_000 };

/** Encodes a table piece by piece, on demand; ends when the consumer stops. */
export async function* encoded(
  format: ExportFormat,
  table: ExportTable,
  pieces: AsyncIterable<ExportRows>,
): AsyncGenerator<Uint8Array> {
  const encoding = openEncoding({ format, table });
  try {
    yield await encoding.call('begin', []);
    // Each piece is read while the one before it is encoded and sent.
    const from = pieces[Symbol.asyncIterator]();
    let coming = from.next();
    try {
      for (let piece = await coming; !piece.done; piece = await coming) {
        const rows = piece.value;
        coming = from.next();
        // It is awaited only after the bytes are sent.
        coming.catch(() => undefined);
        if (rows.timeMs.length > 0) yield await encoding.call('rows', [rows], rowBuffers(rows));
      }
    } finally {
      await from.return?.();
    }
    yield await encoding.call('end', []);
  } finally {
    await encoding.terminate();
  }
}

/** Copies the columns. They may be small views of large buffers, and transferring one moves its whole buffer. */
export function copyRows(
  { timeMs, gaugeMm, values }: SampleColumns,
  names: readonly string[],
  positionMm: Float64Array | null,
): ExportRows {
  return {
    timeMs: timeMs.slice(),
    gaugeMm: gaugeMm.slice(),
    positionMm,
    values: names.map((name) => values[name]!.slice()),
  };
}

/** The date of a run is corrected by whole seconds. */
const SAME_DATE_MS = 1000;

/**
 * To be called after each piece: a user may correct the date of a run while it is exported.
 * @param fromMs time of its first reading when the export began; undefined = it had none
 * @throws Problem `wrong-state` if it is another one now, or the run is gone
 */
export async function requireSameDate(samples: SampleReader, runId: number, fromMs: number | undefined): Promise<void> {
  if (fromMs === undefined) return;
  const nowFromMs = (await samples.extent(runId))?.fromMs ?? Number.NaN;
  if (!(Math.abs(nowFromMs - fromMs) < SAME_DATE_MS)) throw otherDate(runId);
}

export function otherDate(runId: number): Problem {
  return new Problem(
    'wrong-state',
    `Run ${runId} was moved to another date, or deleted, during its export.`,
    'Export it again.',
  );
}
