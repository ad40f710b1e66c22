import type { SampleColumns, SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import { isCutOut, type StrandOnWinder, spoolPositionMm } from '../../strand/position.ts';
import type { ExportFormat } from '../contract/exports.ts';
import { copyRows, encoded, ROWS_PER_PIECE, requireSameDate } from './encoded.ts';
import type { ExportRows, ExportTable } from './export-table.ts';
import { type Sized, sized } from './sized.ts';

/** The strand to export. */
export interface ExportRange extends StrandOnWinder {
  readonly name: string;
  readonly runId: number;
  readonly endGaugeMm: number;
}

const COLUMNS_MAX = 4000;

/** The readings of a spool as bytes, piece by piece, on demand. */
export async function exportSpool(
  samples: SampleReader & SampleColumnsReader,
  range: ExportRange,
  format: ExportFormat,
): Promise<Sized> {
  const { signals = [], fromMs } = (await samples.extent(range.runId)) ?? {};
  const counts = await countsAlong(samples, range);
  const rows = counts.reduce((sum, count) => sum + count, 0);
  const pieces = piecesOf(range, counts, ROWS_PER_PIECE[format]);
  const table: ExportTable = { of: 'spool', name: range.name, signals };
  return sized(encoded(format, table, rowsOf(samples, range, signals, pieces, fromMs)), rows, format);
}

async function* rowsOf(
  samples: SampleReader & SampleColumnsReader,
  range: ExportRange,
  signals: ExportTable['signals'],
  pieces: readonly (readonly [number, number])[],
  fromMs: number | undefined,
): AsyncGenerator<ExportRows> {
  const names = signals.map(({ name }) => name);
  for (const [fromMm, toMm] of pieces) {
    const columns = withoutCutOut(await samples.readings(range.runId, fromMm, toMm, names), range);
    await requireSameDate(samples, range.runId, fromMs);
    const positionMm = columns.gaugeMm.map((mm) => spoolPositionMm(mm, range));
    yield copyRows(columns, names, positionMm);
  }
}

function withoutCutOut(columns: SampleColumns, { cutOuts }: ExportRange): SampleColumns {
  const { timeMs, gaugeMm, values } = columns;
  if (!gaugeMm.some((mm) => isCutOut(mm, cutOuts))) return columns;
  const woundSpool = (column: Float64Array) => column.filter((_, i) => !isCutOut(gaugeMm[i]!, cutOuts));
  const left = Object.entries(values).map(([name, column]) => [name, woundSpool(column)] as const);
  return { timeMs: woundSpool(timeMs), gaugeMm: woundSpool(gaugeMm), values: Object.fromEntries(left) };
}

/** Readings in each of the columns that the spool is divided into. */
async function countsAlong(
  samples: SampleReader,
  { runId, startGaugeMm, endGaugeMm }: ExportRange,
): Promise<readonly number[]> {
  if (!(endGaugeMm > startGaugeMm)) return [];
  const { count } = await samples.window({
    runId,
    axis: 'length',
    from: startGaugeMm,
    to: endGaugeMm,
    columns: COLUMNS_MAX,
    signals: [],
  });
  return [...count];
}

/** Splits the spool into ranges of gauge length with about `rows` readings each; each reading is in exactly one piece. */
function piecesOf(
  { startGaugeMm, endGaugeMm }: ExportRange,
  counts: readonly number[],
  rows: number,
): [number, number][] {
  const pieces: [number, number][] = [];
  let fromMm = startGaugeMm;
  let held = 0;
  for (const [column, count] of counts.entries()) {
    held += count;
    const edgeMm = startGaugeMm + ((endGaugeMm - startGaugeMm) * (column + 1)) / counts.length;
    const last = column === counts.length - 1;
    if (held < rows && !last) continue;
    pieces.push([fromMm, last ? endGaugeMm : justBelow(edgeMm)]);
    fromMm = edgeMm;
    held = 0;
  }
  return pieces;
}

const float = new Float64Array(1);
const bits = new BigInt64Array(float.buffer);

/** The largest double below `value`. A piece ends there, because a range of readings includes both of its ends. */
function justBelow(value: number): number {
  if (value === 0) return -Number.MIN_VALUE;
  float[0] = value;
  bits[0]! += value > 0 ? -1n : 1n;
  return float[0];
}
