import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { copyRows, encoded, ROWS_PER_PIECE, signalsOf } from './encoded.ts';
import type { ExportRows } from './export-table.ts';

/** All readings of a run as bytes, from heating up to shutting down, piece by piece, on demand. */
export async function* exportRun(
  samples: SampleReader & SampleColumnsReader,
  runId: number,
  format: ExportFormat,
): AsyncGenerator<Uint8Array> {
  const signals = await signalsOf(samples, runId);
  const names = signals.map(({ name }) => name);
  yield* encoded(format, { of: 'run', name: `R${runId}`, signals }, rowsOf(samples, runId, names, format));
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
