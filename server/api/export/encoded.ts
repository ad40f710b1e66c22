import type { SampleColumns, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { openEncoding, rowBuffers } from './encoding.ts';
import type { ExportRows, ExportTable } from './export-table.ts';

/** Readings in a piece: what is in memory at a time. A row group of Parquet packs better when it is larger. */
export const ROWS_A_PIECE: Readonly<Record<ExportFormat, number>> = { csv: 10_000, jsonl: 10_000, parquet: 50_000 };

/** A table as bytes, piece by piece as they are taken; whoever stops taking them ends it. */
export async function* encoded(
  format: ExportFormat,
  table: ExportTable,
  pieces: AsyncIterable<ExportRows>,
): AsyncGenerator<Uint8Array> {
  const encoding = openEncoding({ format, table });
  try {
    yield await encoding.call('begin', []);
    for await (const rows of pieces) {
      if (rows.timeMs.length > 0) yield await encoding.call('rows', [rows], rowBuffers(rows));
    }
    yield await encoding.call('end', []);
  } finally {
    await encoding.terminate();
  }
}

export async function channelsOf(samples: SampleReader, runId: number): Promise<ExportTable['channels']> {
  const extent = await samples.extent(runId);
  return (extent?.channels ?? []).map(({ name, unit }) => ({ name, unit }));
}

/** Copies of their own: what the reader gives may be a small view into large blocks, which would travel whole. */
export function ownRows(
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
