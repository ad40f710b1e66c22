import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Printer } from '../../server/entities/printer.ts';
import { SpoolAnalysis } from '../../server/monitor/analysis/spool-analysis.ts';
import type { AnalysedSpool, SpoolColumns } from '../../server/monitor/analysis/spool-columns.ts';
import { strandOf } from '../../server/monitor/analysis/spool-sections.ts';
import { createLineTracker, type LineTracker } from '../../server/monitor/line/line-tracker.ts';
import { strandLimits } from '../../server/monitor/settings-to-parts.ts';
import { jamOnSpool } from '../../server/monitor/spool/jam-on-spool.ts';
import { judgementOf } from '../../server/monitor/spool/judgement.ts';
import type { Reading } from '../../server/reading/reading.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { openStore } from '../../server/store/index.ts';
import { plainContext, SectionDetector } from '../../server/strand/section-detector.ts';
import { SectionScan } from '../../server/strand/section-scan.ts';
import { StrandTrend } from '../../server/strand/trend/strand-trend.ts';
import { wound } from '../monitor/judged-spool.ts';
import { LAYOUT } from '../strand/readings.ts';
import { simulateRun } from './detection/simulated-run.ts';
import type { BenchRow } from './report.ts';

/** A night: 8 h at 50 readings a second. */
const READINGS = 1_440_000;
const REPEATS = 7;
const SETTINGS = defaultLineSettings();
const LIMITS = strandLimits(SETTINGS);
const PRINTER: Printer = { id: 1, name: 'bench', note: '', ...LIMITS };

/** Judging a stored night again, and what judging costs while the line runs. */
export async function benchJudging(): Promise<BenchRow[]> {
  const columns = night();
  const spool = spoolOf(columns);
  const decodeMs = await decoding(columns);
  const otherLimit = (i: number): AnalysedSpool => ({
    ...spool,
    limits: { ...LIMITS, hotendLimitMm: 1.85 + 0.005 * i },
  });
  const otherTolerance = (i: number): AnalysedSpool => ({
    ...spool,
    limits: { ...LIMITS, toleranceMm: 0.03 + 0.002 * i, hotendLimitMm: 1.85 + 0.005 * i },
  });

  const analysis = new SpoolAnalysis();
  analysis.add(columns);
  const judged = (one: AnalysedSpool) => {
    const { found } = analysis.examine(one);
    const woundSpool = wound({ startGaugeMm: one.startGaugeMm, endGaugeMm: one.endGaugeMm });
    const rest = { shortestCoilMm: 5000, meanDiameterMm: 1.75 };
    return jamOnSpool(
      judgementOf(
        woundSpool,
        { kind: 'printer', printer: PRINTER },
        one.limits,
        { basis: 'readings', sections: found },
        rest,
      ),
      10_000,
      { meanPitchMm: 0.7, gaugeNoiseMm: 0.008 },
    );
  };
  const first = timed(() => [judged(spool), analysis.steadiness(spool)]);
  const limit = median((i) => timed(() => judged(otherLimit(i))));
  const tolerance = median((i) => timed(() => judged(otherTolerance(i))));
  const detector = median((i) =>
    timed(() => {
      const judge = new SectionScan(otherLimit(i).limits);
      judge.readNew(strandOf(columns));
      return judge.close();
    }),
  );
  const target = (ms: number) => ({ target: '≤ 500', met: ms <= 500 });
  const live = liveCosts(columns);
  return [
    { what: 'readings of the stored spool', value: columns.timeMs.length, unit: 'readings' },
    {
      what: 'another hotend limit: judged again, verdict, cut plan, jam chance',
      value: limit,
      unit: 'CPU ms',
      ...target(limit),
    },
    {
      what: 'another tolerance too: with statistics and capability',
      value: tolerance,
      unit: 'CPU ms',
      ...target(tolerance),
    },
    { what: 'of which the detector over all readings', value: detector, unit: 'CPU ms' },
    {
      what: 'the first look at a spool: also the control chart, flow error, ovality, drift, surging',
      value: first,
      unit: 'CPU ms',
    },
    { what: 'before it, once a spool: its readings decoded from the record', value: decodeMs, unit: 'CPU ms' },
    {
      what: 'live: length, gauge, stage, detector, drift and surging',
      value: live.whole,
      unit: 'CPU µs/reading',
      target: '≤ 3',
      met: live.whole <= 3,
    },
    { what: 'of which the detector', value: live.detector, unit: 'CPU µs/reading' },
  ];
}

/** A simulated night with blobs and necks; the simulated run is repeated until the night is full. */
function night(): SpoolColumns {
  const run = simulateRun(11, 35, 50, 100_000, true);
  const n = run.timeMs.length;
  const timeMs = new Float64Array(READINGS);
  const gaugeMm = new Float64Array(READINGS);
  const diameterMm = new Float64Array(READINGS);
  const lengthMm = run.gaugeMm[n - 1]! - run.gaugeMm[0]! + run.pitchMm;
  for (let i = 0; i < READINGS; i++) {
    timeMs[i] = 1_750_000_000_000 + 20 * i;
    gaugeMm[i] = run.gaugeMm[i % n]! - run.gaugeMm[0]! + Math.floor(i / n) * lengthMm;
    diameterMm[i] = run.diameterMm[i % n]!;
  }
  return { timeMs, gaugeMm, diameterMm, axesMm: null };
}

function spoolOf({ gaugeMm }: SpoolColumns): AnalysedSpool {
  return {
    startGaugeMm: 1000,
    endGaugeMm: gaugeMm[READINGS - 1]! - 1000,
    lengthFactor: 1,
    cutOuts: [],
    limits: LIMITS,
    growing: false,
  };
}

async function decoding({ timeMs, gaugeMm, diameterMm }: SpoolColumns): Promise<number> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-bench-'));
  const store = openStore({ folder, readers: 'sameThread' });
  try {
    const run = store.writer.beginRun({ startedMs: timeMs[0]!, timeZone: 'UTC', sourceTitle: 'bench' });
    for (let i = 0; i < READINGS; i++)
      store.samples.append(run.id, readingAt(i, timeMs, gaugeMm, diameterMm), gaugeMm[i]!);
    store.samples.flush();
    const before = process.cpuUsage();
    const read = await store.columns.readings(run.id, 0, gaugeMm[READINGS - 1]! + 1, ['d']);
    const { user, system } = process.cpuUsage(before);
    const ms = (user + system) / 1000;
    if (read.timeMs.length !== READINGS) throw new Error(`${read.timeMs.length} readings came back`);
    return ms;
  } finally {
    await store.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

/** As the monitor calls the rooms, reading by reading; µs. */
function liveCosts({ timeMs, gaugeMm, diameterMm }: SpoolColumns): { whole: number; detector: number } {
  const readings = Array.from({ length: 200_000 }, (_, i) => readingAt(i, timeMs, gaugeMm, diameterMm));
  const perReading = (ms: number) => (1000 * ms) / readings.length;
  const context = { ...plainContext(), speedMmPerS: 35 };
  const pass = (trackers: LineTracker | null, detector: SectionDetector, trend: StrandTrend | null) => {
    for (const [i, reading] of readings.entries()) {
      trackers?.step(reading);
      const place = trackers?.gaugeMm ?? gaugeMm[i]!;
      context.gapMm = trackers?.gapMm ?? 0;
      detector.step(reading.timeMs, place, reading.values[0]!, context);
      trend?.step(reading.timeMs, place, reading.values[0]!);
    }
  };
  return {
    whole: perReading(
      median(() =>
        timed(() =>
          pass(
            createLineTracker(SETTINGS, timeMs[0]!, new Map()),
            new SectionDetector(LIMITS),
            new StrandTrend(LIMITS),
          ),
        ),
      ),
    ),
    detector: perReading(median(() => timed(() => pass(null, new SectionDetector(LIMITS), null)))),
  };
}

function readingAt(i: number, timeMs: Float64Array, gaugeMm: Float64Array, diameterMm: Float64Array): Reading {
  return {
    timeMs: timeMs[i]!,
    layout: LAYOUT,
    values: [diameterMm[i]!, 35, Math.round(gaugeMm[i]! * 10) / 10],
    lostBefore: 0,
    restarted: false,
  };
}

/** Processor time, ms: a busy machine does not change it much. */
function timed(work: () => unknown): number {
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1000;
}

function median(measure: (i: number) => number): number {
  const all = Array.from({ length: REPEATS }, (_, i) => measure(i)).sort((a, b) => a - b);
  return all[REPEATS >> 1]!;
}
