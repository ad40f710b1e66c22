import { ZONE_COUNT_MAX } from '../../reading/names.ts';
import type { SampleReader, WindowColumns } from '../ports/samples.ts';

/** Set-points and process values of the line while strand was wound. */
export interface ProcessWhileWinding {
  /** Mean set-points by zone from 1; null = not sent. */
  readonly setpointsC: readonly (number | null)[];
  /** Standard deviation about the set-point by zone from 1, K; null = the zone sends no temperature. */
  readonly heatSdK: readonly (number | null)[];
  readonly screwTurnsPerMin: number | null;
  readonly speedMmPerS: number | null;
}

/** A set-point is assumed constant within a column. */
const COLUMNS = 200;
const ZONES = Array.from({ length: ZONE_COUNT_MAX }, (_, i) => i + 1);
const SIGNALS = ['rpm', ...ZONES.flatMap((zone) => [`t${zone}`, `s${zone}`])];

/** Calculated from summaries, without reading single readings. @param spans gauge lengths while each spool was wound */
export async function processWhileWinding(
  samples: SampleReader,
  runId: number,
  spans: readonly { readonly fromMm: number; readonly toMm: number }[],
): Promise<ProcessWhileWinding> {
  const windows = await Promise.all(
    spans.map(({ fromMm, toMm }) =>
      samples.window({
        runId,
        axis: 'length',
        from: fromMm,
        to: toMm,
        columns: COLUMNS,
        signals: SIGNALS,
        spread: true,
      }),
    ),
  );
  const zones = ZONES.map((zone) => zoneWhileWinding(windows, zone));
  const zoneCount = zones.findLastIndex(({ sdK, setpointC }) => sdK !== null || setpointC !== null) + 1;
  return {
    setpointsC: zones.slice(0, zoneCount).map(({ setpointC }) => setpointC),
    heatSdK: zones.slice(0, zoneCount).map(({ sdK }) => sdK),
    screwTurnsPerMin: meanOf(windows.flatMap((window) => columnsOf(window, 'rpm'))),
    speedMmPerS: speedOf(windows),
  };
}

interface Column {
  readonly count: number;
  readonly mean: number;
  readonly sd: number;
  readonly index: number;
}

function columnsOf(window: WindowColumns, signal: string): Column[] {
  const { mean: means, sd: sds } = window.signals[signal] ?? { mean: [], sd: [] };
  return window.count.flatMap((count, index) => {
    const mean = means[index] ?? null;
    return count === 0 || mean === null ? [] : [{ count, mean, sd: sds?.[index] ?? 0, index }];
  });
}

/** A steady offset from the set-point comes from matching sensor and controller; only variation about it counts. */
function zoneWhileWinding(
  windows: readonly WindowColumns[],
  zone: number,
): { sdK: number | null; setpointC: number | null } {
  const columns = windows.flatMap((window) => {
    const setpoints = new Map(columnsOf(window, `s${zone}`).map(({ index, mean }) => [index, mean]));
    return columnsOf(window, `t${zone}`).map((column) => ({
      ...column,
      mean: column.mean - (setpoints.get(column.index) ?? 0),
    }));
  });
  const setpointC = meanOf(windows.flatMap((window) => columnsOf(window, `s${zone}`)));
  const offset = meanOf(columns);
  if (offset === null) return { sdK: null, setpointC };
  const count = columns.reduce((sum, column) => sum + column.count, 0);
  const squares = columns.reduce((sum, { count: n, mean, sd }) => sum + n * (sd * sd + (mean - offset) ** 2), 0);
  return { sdK: Math.sqrt(squares / count), setpointC };
}

function meanOf(columns: readonly Column[]): number | null {
  const count = columns.reduce((sum, column) => sum + column.count, 0);
  return count === 0 ? null : columns.reduce((sum, column) => sum + column.count * column.mean, 0) / count;
}

function speedOf(windows: readonly WindowColumns[]): number | null {
  let totalMm = 0;
  let totalMs = 0;
  for (const { gaugeMm, timeMs } of windows) {
    const columns = gaugeMm.flatMap((mm, i) => {
      const ms = timeMs[i] ?? null;
      return mm === null || ms === null ? [] : [{ mm, ms }];
    });
    const [first] = columns;
    const last = columns.at(-1);
    if (first === undefined || last === undefined) continue;
    totalMm += last.mm - first.mm;
    totalMs += last.ms - first.ms;
  }
  return totalMs > 0 ? (totalMm / totalMs) * 1000 : null;
}
