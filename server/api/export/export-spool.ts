import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { channelsOf, encoded, ownRows, ROWS_A_PIECE } from './encoded.ts';
import type { ExportRows, ExportTable } from './export-table.ts';

/** Which strand is exported. */
export interface ExportRange {
  readonly name: string;
  readonly runId: number;
  readonly startGaugeMm: number;
  readonly endGaugeMm: number;
  readonly lengthFactor: number;
}

const COLUMNS_MAX = 4000;

/** The readings of a spool as bytes, piece by piece as they are taken. */
export async function* exportSpool(
  samples: SampleReader & SampleColumnsReader,
  range: ExportRange,
  format: ExportFormat,
): AsyncGenerator<Uint8Array> {
  const channels = await channelsOf(samples, range.runId);
  yield* encoded(format, { of: 'spool', name: range.name, channels }, rowsOf(samples, range, channels, format));
}

async function* rowsOf(
  samples: SampleReader & SampleColumnsReader,
  range: ExportRange,
  channels: ExportTable['channels'],
  format: ExportFormat,
): AsyncGenerator<ExportRows> {
  const names = channels.map(({ name }) => name);
  for (const [fromMm, toMm] of await piecesOf(samples, range, ROWS_A_PIECE[format])) {
    const columns = await samples.readings(range.runId, fromMm, toMm, names);
    const positionMm = columns.gaugeMm.map((mm) => (mm - range.startGaugeMm) * range.lengthFactor);
    yield ownRows(columns, names, positionMm);
  }
}

/** Gauge lengths of pieces of about so many readings; a reading lies in exactly one. */
async function piecesOf(
  samples: SampleReader,
  { runId, startGaugeMm, endGaugeMm }: ExportRange,
  rows: number,
): Promise<[number, number][]> {
  if (!(endGaugeMm > startGaugeMm)) return [];
  const columns = COLUMNS_MAX;
  const { count } = await samples.window({
    runId,
    axis: 'length',
    from: startGaugeMm,
    to: endGaugeMm,
    columns,
    channels: [],
  });
  const pieces: [number, number][] = [];
  let fromMm = startGaugeMm;
  let held = 0;
  for (let column = 0; column < columns; column++) {
    held += count[column] ?? 0;
    const edgeMm = startGaugeMm + ((endGaugeMm - startGaugeMm) * (column + 1)) / columns;
    const last = column === columns - 1;
    if (held < rows && !last) continue;
    pieces.push([fromMm, last ? endGaugeMm : justBelow(edgeMm)]);
    fromMm = edgeMm;
    held = 0;
  }
  return pieces;
}

const float = new Float64Array(1);
const bits = new BigInt64Array(float.buffer);

/** The largest number below: a piece ends there, because both ends of a stretch of readings belong to it. */
function justBelow(value: number): number {
  if (value === 0) return -Number.MIN_VALUE;
  float[0] = value;
  bits[0]! += value > 0 ? -1n : 1n;
  return float[0];
}
