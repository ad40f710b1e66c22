import type { MeasuredSection } from '../../server/strand/section.ts';
import type { StrandAdvisory } from '../../server/strand/trend/advisory.ts';
import { StrandTrend } from '../../server/strand/trend/strand-trend.ts';
import { scan } from '../strand/scan.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';
import { drawGlitchyStrand, drawGoodStrand, drawStrandWithLumps, drawTrendStrand } from './detection/draw-plan.ts';
import { likenesses } from './detection/likeness.ts';
import { simulateRun } from './detection/simulated-run.ts';
import { type MadeStrand, StrandMaker } from './detection/strand-maker.ts';
import { EDGE_TOLERANCE_MM, type LumpTally, Tally, type TrendTally } from './detection/tally.ts';
import type { BenchRow } from './report.ts';

const KILOMETRES = 200;
const SIZE = { readings: 500_000, lengthMm: 1_000_000 };
const TREND_SIZE = { readings: 150_000, lengthMm: 300_000 };
const GLITCHY_SIZE = { readings: 100_000, lengthMm: 100_000 };
/** Runs of the full simulator: one after the other for either half of the seeds. */
const SIMULATED = [
  { speedMmPerS: 30, rateHz: 20 },
  { speedMmPerS: 35, rateHz: 50 },
  { speedMmPerS: 50, rateHz: 200 },
  { speedMmPerS: 70, rateHz: 50 },
  { speedMmPerS: 90, rateHz: 25 },
  { speedMmPerS: 100, rateHz: 100 },
] as const;
const SIMULATED_MM = 500_000;
/** With a coarser pitch a lone reading may be a blob, and is marked as doubtful. */
const GLITCHES_TOLD_TO_MM = 0.72;

/**
 * The detector against strand whose truth is known. Even seeds may be looked at while the detector is made; odd ones are
 * held out: their lumps have shapes that no test of the detector uses, and nothing may be tuned on them.
 */
export async function benchDetection(): Promise<BenchRow[]> {
  const tallies = { tuning: new Tally(), heldOut: new Tally() };
  const maker = new StrandMaker(SIZE.readings + 1);
  for (let seed = 2; tallies.tuning.kilometres + tallies.heldOut.kilometres < KILOMETRES; seed++) {
    const tally = seed % 2 === 0 ? tallies.tuning : tallies.heldOut;
    const lumpy = drawStrandWithLumps(seed, USUAL_LIMITS, SIZE);
    const strand = maker.make(lumpy, USUAL_LIMITS);
    tally.lumps(lumpy, strand, judge(strand));
    const good = drawGoodStrand(seed, SIZE);
    const even = maker.make(good, USUAL_LIMITS);
    tally.goodStrand(good, even, judge(even), trendsOf(even));
    const uneven = drawTrendStrand(seed, USUAL_LIMITS, TREND_SIZE);
    const swinging = maker.make(uneven, USUAL_LIMITS);
    tally.trend(uneven, swinging, trendsOf(swinging));
    const glitchy = drawGlitchyStrand(seed, GLITCHY_SIZE);
    const trembling = maker.make(glitchy, USUAL_LIMITS);
    tally.glitchy(trembling, judge(trembling), glitchy.speedMmPerS / glitchy.readingsPerS <= GLITCHES_TOLD_TO_MM);
    const simulated = SIMULATED[(seed >> 1) - 1];
    if (simulated !== undefined) {
      const run = simulateRun(seed, simulated.speedMmPerS, simulated.rateHz, SIMULATED_MM, true);
      tally.simulatedRun(seed, run, scan(run), USUAL_LIMITS);
    }
  }
  return [...likenessRows(), ...rowsOf('tuning half', tallies.tuning), ...rowsOf('held-out half', tallies.heldOut)];
}

function judge({ timeMs, gaugeMm, diameterMm, outOfRoundMm }: MadeStrand): readonly MeasuredSection[] {
  return scan({ timeMs, gaugeMm, diameterMm, ...(outOfRoundMm === null ? {} : { outOfRoundMm }) });
}

function trendsOf({ timeMs, gaugeMm, diameterMm }: MadeStrand): readonly StrandAdvisory[] {
  const trend = new StrandTrend(USUAL_LIMITS);
  for (let i = 0; i < timeMs.length; i++) trend.step(timeMs[i]!, gaugeMm[i]!, diameterMm[i]!);
  trend.interrupt();
  return trend.advisories();
}

function likenessRows(): BenchRow[] {
  const { simulated, made } = likenesses(USUAL_LIMITS);
  const row = (what: string, simulatedValue: number, madeValue: number, unit: string): BenchRow[] => [
    { what: `good strand, ${what}: by the simulator`, value: simulatedValue, unit },
    { what: `good strand, ${what}: made fast, as used here`, value: madeValue, unit },
  ];
  return [
    ...row('σ of readings', simulated.sdMm * 1000, made.sdMm * 1000, 'µm'),
    ...row('correlation of neighbouring readings', simulated.lag1, made.lag1, ''),
    ...row('σ of the means of metres', simulated.metreSdMm * 1000, made.metreSdMm * 1000, 'µm'),
  ];
}

function rowsOf(half: string, tally: Tally): BenchRow[] {
  const { good, lumpsMm, glitches, simulated, target, lesser, stretches, roughStretches } = tally;
  const goodKm = good.mm / 1e6;
  const falseTrends = tally.goodTrends.drift + tally.goodTrends.surging;
  const share = (part: number, whole: number) => (whole === 0 ? 0 : (100 * part) / whole);
  const row = (what: string, value: number, unit: string): BenchRow => ({ what: `${half}: ${what}`, value, unit });
  return [
    row('strand, of which the next line by the full simulator', tally.kilometres, 'km'),
    row('strand by the full simulator', simulated.mm / 1e6, 'km'),
    row('strands of different speed, rate, noise, gauge', tally.strands, 'strands'),
    row('readings', tally.readingsJudged, 'readings'),
    row('lumps ≥ 0.03 mm beyond a limit for ≥ 3 samples', target.count, 'lumps'),
    missedRow(half, 'of them missed', target),
    row('of them found, but only in doubt', target.inDoubt, 'lumps'),
    ...edgeRows(half, 'their edges', target),
    row(
      'lesser lumps (lower, or shorter than 3 samples) found',
      share(lesser.count - lesser.missed.length, lesser.count),
      '%',
    ),
    ...tally.blobsByReadings.flatMap(({ count, missed, onRough, missedOnRough }, readings) => {
      const long = readings === 3 ? '≥ 3' : `${readings} to ${readings + 1}`;
      const what = `blobs ≥ 0.03 mm beyond the limit for ${long} samples`;
      return [
        row(what, count, 'blobs'),
        row('of them missed', missed, 'missed'),
        row('of them on the roughest third of the strand', onRough, 'blobs'),
        row('and of these missed', missedOnRough, 'missed'),
      ];
    }),
    ...stretchRows(half, 'stretches out of tolerance', stretches),
    edgeTarget(half, 'bad strand left outside them, max', Math.max(...stretches.leftMm)),
    ...stretchRows(half, 'stretches on the roughest third of the strand', roughStretches),
    row('bad strand left outside them, max', Math.max(...roughStretches.leftMm), 'mm'),
    row('lumps by the simulator’s truth', simulated.lumps.count, 'lumps'),
    missedRow(half, 'of them missed', simulated.lumps),
    ...edgeRows(half, 'their edges', simulated.lumps),
    row('good strand, σ = 0.015 mm', goodKm, 'km'),
    {
      ...row('false discards on it', good.discards / goodKm, '/km'),
      target: '< 1',
      met: good.discards / goodKm < 1,
    },
    row('false doubtful sections on it', good.doubtful / goodKm, '/km'),
    row('false discards between lumps, σ 0.005 to 0.03 mm', lumpsMm.falseDiscards / (lumpsMm.strand / 1e6), '/km'),
    row('false discards between the simulator’s lumps', simulated.falseDiscards / (simulated.mm / 1e6), '/km'),
    {
      ...row('false drift or surging on good strand, σ = 0.015 mm', falseTrends / goodKm, '/km'),
      target: '< 0.1',
      met: falseTrends / goodKm < 0.1,
    },
    ...trendRows(half, 'drift by 0.5 to 1.2 × the tolerance', tally.trends.drift),
    ...trendRows(half, 'surging or run-out by ± 0.35 to 1 × the tolerance', tally.trends.surging),
    loneRow(half, 'pitch ≤ 0.72 mm', share(glitches.fineTaken, glitches.fine)),
    loneRow(half, 'coarser', share(glitches.wideTaken, glitches.wide)),
  ];
}

function loneRow(half: string, pitch: string, value: number): BenchRow {
  const what = `${half}: lone garbage readings taken for discards, ${pitch}`;
  return { what, value, unit: '%', target: 'none', met: value === 0 };
}

function trendRows(half: string, what: string, { count, found, lateMm, false: others }: TrendTally): BenchRow[] {
  const sorted = [...lateMm].sort((a, b) => a - b);
  return [
    { what: `${half}: strands with ${what}`, value: count, unit: 'strands' },
    { what: `${half}: of them found`, value: (100 * found) / count, unit: '%' },
    { what: `${half}: its beginning off by, p50`, value: (sorted[sorted.length >> 1] ?? Number.NaN) / 1000, unit: 'm' },
    { what: `${half}: other advisories on these strands`, value: others, unit: 'advisories' },
  ];
}

function missedRow(half: string, what: string, tally: LumpTally): BenchRow {
  for (const missed of tally.missed) console.error(`MISSED: ${missed}`);
  const value = tally.missed.length;
  return { what: `${half}: ${what}`, value, unit: 'missed', target: 'none', met: value === 0 };
}

function stretchRows(half: string, what: string, tally: LumpTally): BenchRow[] {
  const { count, nearMm, leftMm } = tally;
  const near = `${half}: their edges further out, over strand too near to the tolerance to be told from it`;
  return [
    { what: `${half}: ${what}`, value: count, unit: 'stretches' },
    missedRow(half, 'of them missed', tally),
    ...edgeRows(half, 'their edges, from where doubt begins', tally),
    { what: near, value: (100 * nearMm.length) / leftMm.length, unit: '% of edges' },
    { what: `${near}, max`, value: Math.max(0, ...nearMm), unit: 'mm' },
  ];
}

function edgeTarget(half: string, what: string, value: number): BenchRow {
  return {
    what: `${half}: ${what}`,
    value,
    unit: 'mm',
    target: `≤ ${EDGE_TOLERANCE_MM}`,
    met: value <= EDGE_TOLERANCE_MM,
  };
}

/** How far edges are from the truth, less one sample pitch. */
function edgeRows(half: string, what: string, { edgeMm }: LumpTally): BenchRow[] {
  const sorted = [...edgeMm].sort((a, b) => a - b);
  const at = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
  const beyond = sorted.filter((mm) => mm > EDGE_TOLERANCE_MM).length;
  const name = `${half}: ${what}, off by more than a sample pitch`;
  return [
    { what: `${name}, p50`, value: at(0.5), unit: 'mm' },
    { what: `${name}, p95`, value: at(0.95), unit: 'mm' },
    edgeTarget(half, `${what}, off by more than a sample pitch, max`, at(1)),
    { what: `${name}, beyond ${EDGE_TOLERANCE_MM} mm`, value: (100 * beyond) / sorted.length, unit: '% of edges' },
  ];
}
