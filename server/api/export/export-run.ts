import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { copyRows, encoded, ROWS_PER_PIECE, requireSameDate } from './encoded.ts';
import type { ExportRows } from './export-table.ts';
import { type Sized, sized } from './sized.ts';

/** All readings of a run as bytes, from heating up to shutting down, piece by piece, on demand. */
export async function exportRun(
  samples: SampleReader & SampleColumnsReader,
  runId: number,
  format: ExportFormat,
): Promise<Sized> {
  const { signals = [], count = 0, fromMs } = (await samples.extent(runId)) ?? {};
  const names = signals.map(({ name }) => name);
  const rows = rowsOf(samples, runId, names, format, fromMs);
  return sized(encoded(format, { of: 'run', name: `R${runId}`, signals }, rows), count, format);
}

async function* rowsOf(
  samples: SampleReader & SampleColumnsReader,
  runId: number,
  names: readonly string[],
  format: ExportFormat,
  fromMs: number | undefined,
): AsyncGenerator<ExportRows> {
  const rows = ROWS_PER_PIECE[format];
  for (let first = 0; ; first += rows) {
    const columns = await samples.piece(runId, first, rows, names);
    await requireSameDate(samples, runId, fromMs);
    yield copyRows(columns, names, null);
    if (columns.timeMs.length < rows) return;
  }
}
