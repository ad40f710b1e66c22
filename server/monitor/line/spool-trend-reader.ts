import { messageOf } from '../../problem/problem.ts';
import { GaugeWatch } from '../../strand/gauge-watch.ts';
import type { Stretch } from '../../strand/position.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { TwoAxes } from '../../strand/two-axes.ts';
import type { Log } from '../log.ts';
import type { SampleColumnsReader } from '../ports/samples.ts';
import { createSpoolTrends, type SpoolTrends } from '../run/spool-trends.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';

export interface SpoolTrendReaderParts {
  readonly columns: SampleColumnsReader | undefined;
  readonly log: Log;
  readonly settings: SettingsInForce;
  readonly follower: RunFollower;
  /** The monitor is stopping, so nothing more is read. */
  isOver(): boolean;
}

/** Calculates mean diameter and trends of the spool being wound from its stored readings, after a restart or a changed start. */
export class SpoolTrendReader {
  readonly #parts: SpoolTrendReaderParts;

  constructor(parts: SpoolTrendReaderParts) {
    this.#parts = parts;
  }

  /** Reads up to this gauge length in the background, and farther if that takes long; the latest readings are added afterwards. */
  readFromStart(gaugeMm: number): void {
    const { columns, log, settings, follower, isOver } = this.#parts;
    const { run, spool, gaugeToWinderMm } = follower.runTracker;
    if (columns === undefined || run === null || spool === null) return;
    const pending = follower.sections.awaitEarlierTrends();
    const endMm = () => Math.max(gaugeMm, pending.droppedToMm());
    const stretch = { runId: run.id, fromGaugeMm: spool.startGaugeMm + gaugeToWinderMm, endMm };
    const cancelled = () => isOver() || pending.obsolete();
    const doubted = follower.sections.measured().filter(({ kind, doubt }) => kind === 'unknown' && doubt !== undefined);
    trendsFromReadings(columns, stretch, doubted, settings.strandLimits, cancelled).then(
      (earlier) => {
        if (earlier !== null) pending.use(earlier.trends, earlier.lastTimeMs);
      },
      (thrown: unknown) => {
        pending.cancel();
        if (!isOver()) log.warn('The trends of the spool start over', { why: messageOf(thrown) });
      },
    );
  }
}

/** Strand read at a time: a few thousand readings, evaluated in one or two milliseconds. */
const PIECE_MM = 1000;

/**
 * Works in pieces, so that live readings are handled in between.
 * @param doubted where the gauge's readings prove nothing
 * @returns null if cancelled
 */
async function trendsFromReadings(
  columns: SampleColumnsReader,
  stretch: { readonly runId: number; readonly fromGaugeMm: number; readonly endMm: () => number },
  doubted: readonly Stretch[],
  limits: StrandLimits,
  cancelled: () => boolean,
): Promise<{ readonly trends: SpoolTrends; readonly lastTimeMs: number } | null> {
  const { runId, fromGaugeMm, endMm } = stretch;
  const trends = createSpoolTrends(limits, fromGaugeMm);
  const axes = new TwoAxes(limits);
  const gauge = new GaugeWatch(limits);
  let lastTimeMs = Number.NEGATIVE_INFINITY;
  let lastGaugeMm = fromGaugeMm;
  for (let fromMm = fromGaugeMm; fromMm < endMm(); ) {
    const toMm = Math.min(endMm(), fromMm + PIECE_MM);
    const { timeMs, gaugeMm, values } = await columns.readings(runId, fromMm, toMm, ['d', 'dx', 'dy']);
    const sent = (name: 'd' | 'dx' | 'dy', i: number): number => values[name]?.[i] ?? Number.NaN;
    for (let i = 0; i < timeMs.length; i++) {
      const atMs = timeMs[i]!;
      // Readings at the edge between two pieces are in both.
      if (atMs <= lastTimeMs) continue;
      const atMm = gaugeMm[i]!;
      axes.step(atMs, sent('d', i), sent('dx', i), sent('dy', i));
      const sentMm = axes.diameterMm;
      const diameterMm = canBeStrand(sentMm, limits.nominalMm) ? sentMm : Number.NaN;
      gauge.step(atMs, atMm, diameterMm, (1000 * (atMm - lastGaugeMm)) / (atMs - lastTimeMs));
      const isDoubted = doubted.some(({ fromMm: start, toMm: end }) => atMm >= start && atMm <= end);
      trends.step(atMs, atMm, diameterMm, !gauge.frozen && !isDoubted);
      lastTimeMs = atMs;
      lastGaugeMm = atMm;
    }
    fromMm = toMm;
    // The reader may run on this thread too, and then never waits.
    await new Promise<void>((resolve) => setImmediate(resolve));
    if (cancelled()) return null;
  }
  return { trends, lastTimeMs };
}
