import { ZONE_COUNT_MAX } from '../../reading/names.ts';
import type { SampleReader, WindowColumns, WindowQuery } from '../ports/samples.ts';

/** What the line was set to while strand was wound. */
export interface SetWhileWinding {
  /** Mean set-points by zone from 1; null = not sent. */
  readonly setpointsC: readonly (number | null)[];
  readonly speedMmPerS: number | null;
}

/** Set-points and process values of the line while strand was wound. */
export interface ProcessWhileWinding extends SetWhileWinding {
  /** Standard deviation about the set-point by zone from 1, K; null = the zone sends no temperature. */
  readonly heatSdK: readonly (number | null)[];
  readonly screwTurnsPerMin: number | null;
}

interface Span {
  readonly fromMm: number;
  readonly toMm: number;
}

/** A set-point is assumed constant within a column. */
const COLUMNS = 200;
/** For what lasts a whole spool: the summaries of the widest blocks are enough. */
const FEW_COLUMNS = 8;
const ZONES = Array.from({ length: ZONE_COUNT_MAX }, (_, i) => i + 1);
const ZONE_SIGNALS = ZONES.flatMap((zone) => [`t${zone}`, `s${zone}`]);

/** Calculated from summaries, without reading single readings. @param spans gauge lengths while each spool was wound */
export async function processWhileWinding(
  samples: SampleReader,
  runId: number,
  spans: readonly Span[],
): Promise<ProcessWhileWinding> {
  const windows = await windowsOf(samples, runId, spans, {
    columns: COLUMNS,
    signals: ['rpm', ...ZONE_SIGNALS],
    spread: true,
  });
  const zones = zonesWhileWinding(windows);
  return {
    setpointsC: zones.map(({ setpointC }) => setpointC),
    heatSdK: zones.map(({ sdK }) => sdK),
    screwTurnsPerMin: meanOf(windows.flatMap((window) => columnsOf(window, 'rpm'))),
    speedMmPerS: speedOf(windows),
  };
}

/** A tenth of the work of all process values, for lists of many runs. @param spans gauge lengths while each spool was wound */
export async function setWhileWinding(
  samples: SampleReader,
  runId: number,
  spans: readonly Span[],
): Promise<SetWhileWinding> {
  const windows = await windowsOf(samples, runId, spans, { columns: FEW_COLUMNS, signals: ZONE_SIGNALS });
  return { setpointsC: zonesWhileWinding(windows).map(({ setpointC }) => setpointC), speedMmPerS: speedOf(windows) };
}

function windowsOf(
  samples: SampleReader,
  runId: number,
  spans: readonly Span[],
  what: Pick<WindowQuery, 'columns' | 'signals' | 'spread'>,
): Promise<WindowColumns[]> {
  return Promise.all(
    spans.map(({ fromMm, toMm }) => samples.window({ runId, axis: 'length', from: fromMm, to: toMm, ...what })),
  );
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

interface ZoneWhileWinding {
  readonly sdK: number | null;
  readonly setpointC: number | null;
}

/** By zone from 1 to the last one that sends anything. */
function zonesWhileWinding(windows: readonly WindowColumns[]): ZoneWhileWinding[] {
  const zones = ZONES.map((zone) => zoneWhileWinding(windows, zone));
  return zones.slice(0, zones.findLastIndex(({ sdK, setpointC }) => sdK !== null || setpointC !== null) + 1);
}

/** A steady offset from the set-point comes from matching sensor and controller; only variation about it counts. */
function zoneWhileWinding(windows: readonly WindowColumns[], zone: number): ZoneWhileWinding {
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
