import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { copyRows, encoded, ROWS_PER_PIECE } from './encoded.ts';
import type { ExportRows } from './export-table.ts';
import { type Sized, sized } from './sized.ts';

/** All readings of a run as bytes, from heating up to shutting down, piece by piece, on demand. */
export async function exportRun(
  samples: SampleReader & SampleColumnsReader,
  runId: number,
  format: ExportFormat,
): Promise<Sized> {
  const { signals = [], count = 0 } = (await samples.extent(runId)) ?? {};
  const names = signals.map(({ name }) => name);
  const rows = rowsOf(samples, runId, names, format);
  return sized(encoded(format, { of: 'run', name: `R${runId}`, signals }, rows), count, format);
}

async function* rowsOf(
  samples: SampleColumnsReader,
  runId: number,
  names: readonly string[],
  format: ExportFormat,
): AsyncGenerator<ExportRows> {
  const rows = ROWS_PER_PIECE[format];
  for (let first = 0; ; first += rows) {
    const columns = await samples.piece(runId, first, rows, names);
    yield copyRows(columns, names, null);
    if (columns.timeMs.length < rows) return;
  }
}
