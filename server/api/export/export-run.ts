import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { channelsOf, encoded, ownRows, ROWS_A_PIECE } from './encoded.ts';
import type { ExportRows } from './export-table.ts';

/** All readings of a run as bytes, from heating up to shutting down, piece by piece as they are taken. */
export async function* exportRun(
  samples: SampleReader & SampleColumnsReader,
  runId: number,
  format: ExportFormat,
): AsyncGenerator<Uint8Array> {
  const channels = await channelsOf(samples, runId);
  const names = channels.map(({ name }) => name);
  yield* encoded(format, { of: 'run', name: `R${runId}`, channels }, rowsOf(samples, runId, names, format));
}

async function* rowsOf(
  samples: SampleColumnsReader,
  runId: number,
  names: readonly string[],
  format: ExportFormat,
): AsyncGenerator<ExportRows> {
  const rows = ROWS_A_PIECE[format];
  for (let first = 0; ; first += rows) {
    const columns = await samples.piece(runId, first, rows, names);
    yield ownRows(columns, names, null);
    if (columns.timeMs.length < rows) return;
  }
}
