import { ZONE_COUNT_MAX } from '../reading/names.ts';
import type { SampleReader, WindowColumns } from './ports/samples.ts';

/** What the line was set to and how it kept to it while strand was wound. */
export interface LineWhileWound {
  /** Mean set-points by zone from 1; null = not told. */
  readonly setpointsC: readonly (number | null)[];
  /** Standard deviation about the set-point by zone from 1, K; null = the zone tells no temperature. */
  readonly heatSdK: readonly (number | null)[];
  readonly screwTurnsPerMin: number | null;
  readonly speedMmPerS: number | null;
}

/** Within a column a set-point is taken to stand still. */
const COLUMNS = 200;
const ZONES = Array.from({ length: ZONE_COUNT_MAX }, (_, i) => i + 1);
const CHANNELS = ['rpm', ...ZONES.flatMap((zone) => [`t${zone}`, `s${zone}`])];

/** From what is summed up of the readings: no reading is looked at. @param spans gauge lengths while each spool was wound */
export async function lineWhileWound(
  samples: SampleReader,
  runId: number,
  spans: readonly { readonly fromMm: number; readonly toMm: number }[],
): Promise<LineWhileWound> {
  const windows = await Promise.all(
    spans.map(({ fromMm, toMm }) =>
      samples.window({
        runId,
        axis: 'length',
        from: fromMm,
        to: toMm,
        columns: COLUMNS,
        channels: CHANNELS,
        spread: true,
      }),
    ),
  );
  const zones = ZONES.map((zone) => zoneWhileWound(windows, zone));
  const told = zones.findLastIndex(({ sdK, setpointC }) => sdK !== null || setpointC !== null) + 1;
  return {
    setpointsC: zones.slice(0, told).map(({ setpointC }) => setpointC),
    heatSdK: zones.slice(0, told).map(({ sdK }) => sdK),
    screwTurnsPerMin: meanOf(windows.flatMap((window) => columnsOf(window, 'rpm'))),
    speedMmPerS: speedOf(windows),
  };
}

interface Column {
  readonly count: number;
  readonly mean: number;
  readonly sd: number;
  readonly at: number;
}

function columnsOf(window: WindowColumns, channel: string): Column[] {
  const { mean, sd } = window.channels[channel] ?? { mean: [], sd: [] };
  return window.count.flatMap((count, at) =>
    count === 0 || mean[at] == null ? [] : [{ count, mean: mean[at]!, sd: sd?.[at] ?? 0, at }],
  );
}

/** A steady offset from the set-point is how sensor and controller are matched: only the unrest about it counts. */
function zoneWhileWound(
  windows: readonly WindowColumns[],
  zone: number,
): { sdK: number | null; setpointC: number | null } {
  const columns = windows.flatMap((window) => {
    const setpoints = new Map(columnsOf(window, `s${zone}`).map(({ at, mean }) => [at, mean]));
    return columnsOf(window, `t${zone}`).map((column) => ({
      ...column,
      mean: column.mean - (setpoints.get(column.at) ?? 0),
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
  let mm = 0;
  let ms = 0;
  for (const { gaugeMm, timeMs } of windows) {
    const first = gaugeMm.findIndex((one) => one !== null);
    const last = gaugeMm.findLastIndex((one) => one !== null);
    if (first < 0 || last === first) continue;
    mm += gaugeMm[last]! - gaugeMm[first]!;
    ms += timeMs[last]! - timeMs[first]!;
  }
  return ms > 0 ? (mm / ms) * 1000 : null;
}
