import { steadinessChart } from '../../../server/strand/chart/steadiness.ts';
import { type ComparedRun, compareGroups } from '../../../server/strand/comparison/compare-groups.ts';
import type { MeasureKey } from '../../../server/strand/comparison/measures.ts';
import { type RunFigures, valueOfRun, valuesOfRun } from '../../../server/strand/comparison/run-value.ts';
import { stretchesOfStrand } from '../../../server/strand/comparison/stretch-sums.ts';
import { causesOf } from '../../../server/strand/spectrum/named-causes.ts';
import { strandSpectrum } from '../../../server/strand/spectrum/strand-spectrum.ts';
import { lengthWeights } from '../../../server/strand/statistics/length-weights.ts';
import { statisticsAgainst, strandBasis } from '../../../server/strand/statistics/strand-statistics.ts';
import { StrandTrend } from '../../../server/strand/trend/strand-trend.ts';
import { ar1, normals } from '../../strand/analysis/noise.ts';
import type { BenchRow } from '../report.ts';

/** Nothing was tuned on these seeds. */
const HELD_OUT = 700_000;
const LENGTH_MM = 330_000;
const SD_MM = 0.015;
const PITCH_MM = 50;
const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05, strandPresentMm: 0.5 };
const CORRELATIONS_M = [0.1, 1, 5, 10, 30, 60] as const;
const TIMES = 400;

/** How often the statistics say more than is known, on strand whose truth is known. */
export function benchStatistics(): BenchRow[] {
  return [...steadinessRows(), ...driftRows(), ...causeRows(), ...coverageRows(), ...comparisonRows()];
}

/** A spool of 330 m whose diameter is correlated over a length, σ = 0.015 mm, a reading every 50 mm. */
function strand(seed: number, correlationM: number, lengthMm = LENGTH_MM): Float64Array {
  const noise = ar1(lengthMm / PITCH_MM, Math.exp(-PITCH_MM / 1000 / correlationM), HELD_OUT + seed);
  return noise.map((z) => LIMITS.nominalMm + SD_MM * z);
}

const positions = (diameterMm: Float64Array) => diameterMm.map((_, i) => i * PITCH_MM);

function shareOf(times: number, holds: (seed: number) => boolean): number {
  let count = 0;
  for (let seed = 1; seed <= times; seed++) if (holds(seed)) count += 1;
  return (100 * count) / times;
}

function atMost(what: string, value: number, most: number): BenchRow {
  return { what, value, unit: '%', target: `≤ ${most}`, met: value <= most };
}

function atLeast(what: string, value: number, least: number): BenchRow {
  return { what, value, unit: '%', target: `≥ ${least}`, met: value >= least };
}

/** Whether 95 % intervals hold the truth as often as they say, to within twice the error of counting so few. */
function covers(what: string, count: number, of: number): BenchRow {
  const share = count / of;
  const error = 100 * Math.sqrt((0.95 * 0.05) / of);
  return {
    what: `${what} (±${error.toFixed(1)})`,
    value: 100 * share,
    unit: '%',
    target: `≥ 95 − ${(2 * error).toFixed(1)}`,
    met: 100 * share >= 95 - 2 * error,
  };
}

function meansOf(diameterMm: Float64Array): Float64Array {
  const each = diameterMm.length / 100;
  return Float64Array.from({ length: 100 }, (_, i) => {
    const part = diameterMm.subarray(i * each, (i + 1) * each);
    return part.reduce((sum, mm) => sum + mm, 0) / part.length;
  });
}

/** Strand whose diameter is that of a steady process, by name; a random walk and 1/f have no level to leave. */
const STEADY: Readonly<Record<string, (seed: number) => Float64Array>> = {
  ...Object.fromEntries(CORRELATIONS_M.map((m) => [`correlated over ${m} m`, (seed: number) => strand(seed, m)])),
  'fast noise and a third of it wandering over 30 m': (seed) => mixed(seed, 30),
  'fast noise and a third of it wandering over 60 m': (seed) => mixed(seed, 60),
  '1/f noise': flicker,
  'random walk': (seed) => {
    let mm = LIMITS.nominalMm;
    return normals(LENGTH_MM / PITCH_MM, HELD_OUT + seed).map((z) => {
      mm += 0.0005 * z;
      return mm;
    });
  },
};

function mixed(seed: number, slowM: number): Float64Array {
  const slow = strand(seed + 50_000, slowM);
  return strand(seed, 0.1).map((mm, i) => mm + (slow[i]! - LIMITS.nominalMm) / 3);
}

/** A sum of first-order series whose correlations are far apart falls as 1/f between them; spread as that of the others. */
function flicker(seed: number): Float64Array {
  const lengthsM = [0.2, 1, 5, 25, 125, 625];
  const parts = lengthsM.map((m, k) => strand(100_000 * (k + 1) + seed, m));
  return parts[0]!.map((_, i) =>
    parts.reduce((mm, part) => mm + (part[i]! - LIMITS.nominalMm) / Math.sqrt(parts.length), LIMITS.nominalMm),
  );
}

function steadinessRows(): BenchRow[] {
  const unsteady = (values: Float64Array) => ['step', 'creep'].includes(steadinessChart(values).finding);
  const rows = Object.entries(STEADY).map(([name, steady]) =>
    atMost(
      `steady spool, ${name}: said to be not steady`,
      shareOf(TIMES, (seed) => unsteady(meansOf(steady(seed)))),
      1,
    ),
  );
  let placed = 0;
  const found = shareOf(TIMES, (seed) => {
    const { finding, change } = steadinessChart(stepped(strand(seed, 1), 0.6, 0.03));
    if (change !== null && Math.abs(change.index - 60) <= change.indexUncertainty) placed += 1;
    return finding === 'step';
  });
  // The step that is reported, and the one that really is found on four spools of five.
  const visible = Object.entries(STEADY).flatMap(([name, steady]) => {
    const reported = seedsTo(100)
      .map((seed) => steadinessChart(meansOf(steady(seed + 2000))).smallestStep ?? Number.NaN)
      .filter((mm) => mm > 0)
      .sort((a, b) => a - b);
    const reportedMm = reported[reported.length >> 1]!;
    const share = (mm: number, times = 100) =>
      shareOf(times, (seed) => unsteady(stepped(steady(seed + 3000), 0.5, mm)));
    const sizes = Array.from({ length: 24 }, (_, k) => 0.002 * 1.25 ** k);
    const enough = sizes.find((mm) => share(mm) >= 80) ?? Number.NaN;
    return [
      { what: `step in the middle found on 80 % of spools, ${name}`, value: enough, unit: 'mm' },
      atLeast(
        `the smallest step that is reported there, median ${reportedMm.toFixed(3)} mm: found`,
        share(reportedMm, 400),
        80,
      ),
    ];
  });
  return [
    ...rows,
    { what: 'shift of 0.03 mm at 198 m, correlated over 1 m: found', value: found, unit: '%' },
    atLeast('of them: the place within its interval', placed / (found / 100) / (TIMES / 100), 95),
    ...visible,
  ];
}

/** The means of strand whose level rises by a step. */
function stepped(diameterMm: Float64Array, atShare: number, stepMm: number): Float64Array {
  return meansOf(diameterMm.map((mm, i, all) => (i < atShare * all.length ? mm : mm + stepMm)));
}

const seedsTo = (count: number) => Array.from({ length: count }, (_, i) => i + 1);

function driftRows(): BenchRow[] {
  const drifts = (diameterMm: Float64Array) => {
    const trend = new StrandTrend(LIMITS);
    diameterMm.forEach((mm, i) => {
      trend.step(i * 1000, i * PITCH_MM, mm);
    });
    trend.interrupt();
    return trend.advisories().some(({ kind }) => kind === 'drift');
  };
  // Over 60 m the mean of a spool really does leave the level of its first metres now and then; so does a random walk, always.
  const steady = Object.entries(STEADY)
    .filter(([name]) => name !== 'random walk')
    .map(([name, process]) =>
      atMost(
        `steady spool, ${name}: drift advised`,
        shareOf(1000, (seed) => drifts(process(seed))),
        name.includes('60 m') ? 5 : 1,
      ),
    );
  const ramp = (mm: number, diameterMm: Float64Array) =>
    diameterMm.map((d, i) => d + mm * Math.min(1, Math.max(0, (i * PITCH_MM - 150_000) / 50_000)));
  const found = CORRELATIONS_M.flatMap((m) =>
    (m < 1 ? [0.02, 0.05] : [0.05, 0.1]).map((mm) => ({
      what: `mean rises by ${mm} mm over 50 m, correlated over ${m} m: drift advised`,
      value: shareOf(200, (seed) => drifts(ramp(mm, strand(seed, m)))),
      unit: '%',
    })),
  );
  return [...steady, ...found];
}

function causeRows(): BenchRow[] {
  const causes = causesOf({
    rollerCircumferenceMm: 157,
    screwTurnsPerMin: 12,
    gears: [{ name: 'gearbox, last stage', shaft: 'screw', cyclesPerTurn: 5 }],
    controlPeriodS: 30,
  });
  const n = 16_384;
  const walk = (seed: number) => {
    let place = 0;
    return normals(n, HELD_OUT + seed).map((step) => {
      place += step;
      return place;
    });
  };
  // A sum of first-order series whose correlations are decades apart falls as 1/f between them.
  const flicker = (seed: number) => {
    const parts = [2, 10, 50, 250, 1250].map((decay, k) => ar1(n, Math.exp(-1 / decay), HELD_OUT + 10 * seed + k));
    return parts[0]!.map((_, i) => parts.reduce((sum, part) => sum + part[i]!, 0));
  };
  const noises = { white: (seed: number) => normals(n, HELD_OUT + seed), '1/f': flicker, 'random walk': walk };
  const at = Float64Array.from({ length: n }, (_, i) => 2 * i);
  const timeS = at.map((mm) => mm / 40);
  return Object.entries(noises).map(([name, noise]) =>
    atMost(
      `strand without a wave, ${name} noise: a cause named`,
      shareOf(200, (seed) => {
        const { inLength, inTime } = strandSpectrum(
          timeS,
          at,
          noise(seed).map((z) => 1.75 + 0.001 * z),
          causes,
        );
        return [...inLength.peaks, ...inTime.peaks].some((peak) => peak.causes.length > 0);
      }),
      1,
    ),
  );
}

function coverageRows(): BenchRow[] {
  return CORRELATIONS_M.slice(1, 5).flatMap((m) => {
    const within = SD_MM * Math.sqrt(1 - Math.exp(-0.25 / m));
    const truth = { pp: 0.05 / 3 / SD_MM, cp: 0.05 / 3 / within, cpm: 0.05 / 3 / Math.hypot(SD_MM, 0.01) };
    const covered = { pp: 0, cp: 0, cpm: 0, sd: 0, mean: 0 };
    // A spool too short for its correlation gives no interval of its spread, which is honest but holds nothing.
    let withoutSd = 0;
    for (let seed = 1; seed <= TIMES; seed++) {
      const d = strand(seed, m).map((mm) => mm + 0.01);
      const { capability } = statisticsAgainst(strandBasis(positions(d), d), LIMITS);
      for (const key of ['pp', 'cp', 'cpm'] as const) if (holds(capability![key], truth[key])) covered[key] += 1;
      const figures = runOf(d);
      const { interval } = valueOfRun(figures, 'sd');
      if (interval === null) withoutSd += 1;
      else if (holds(interval, SD_MM)) covered.sd += 1;
      if (holds(valueOfRun(figures, 'mean').interval, LIMITS.nominalMm + 0.01)) covered.mean += 1;
    }
    const rows = Object.entries(covered).map(([key, count]) =>
      covers(
        `correlated over ${m} m: 95 % interval of ${NAMES[key]} holds the true one`,
        count,
        key === 'sd' ? TIMES - withoutSd : TIMES,
      ),
    );
    const reported = `correlated over ${m} m: too short for an interval of the standard deviation, and the page says so`;
    return [...rows, { what: reported, value: (100 * withoutSd) / TIMES, unit: '%' }];
  });
}
const NAMES: Readonly<Record<string, string>> = {
  pp: 'Pp',
  cp: 'Cp',
  cpm: 'Cpm',
  sd: 'the standard deviation of a run',
  mean: 'the mean of a run',
};

function holds(interval: { readonly lower: number; readonly upper: number } | null, value: number): boolean {
  return interval !== null && interval.lower <= value && value <= interval.upper;
}

function runOf(diameterMm: Float64Array, lumpsAtMm: readonly number[] = []): RunFigures & ComparedRun {
  const positionMm = positions(diameterMm);
  const made = { positionMm, diameterMm, weightsMm: lengthWeights(positionMm), axesMm: null };
  const lengthMm = diameterMm.length * PITCH_MM;
  const discards = lumpsAtMm.map((mm) => ({ fromMm: mm, toMm: mm + 20 }));
  const figures = {
    nominalMm: LIMITS.nominalMm,
    stretches: stretchesOfStrand(made, lengthMm, LIMITS, { discards, lumpsAtMm }),
    keptMm: lengthMm - 2000 * lumpsAtMm.length,
    longestCoilMm: lengthMm / (1 + lumpsAtMm.length),
    heat: null,
    alarms: { callsAt: [], hours: 3 },
  };
  return { ...figures, line: 0, values: valuesOfRun(figures) };
}

function comparisonRows(): BenchRow[] {
  const runs = (count: number, seed: number, correlationM: number, spread = 1) =>
    Array.from({ length: count }, (_, i) => {
      const d = strand(100 * seed + i, correlationM).map((mm) => 1.75 + spread * (mm - 1.75));
      const at = normals(12, HELD_OUT + 100 * seed + i).map((z) => (0.5 + Math.atan(z) / Math.PI) * LENGTH_MM);
      return runOf(d, [...at]);
    });
  const finding = (groups: readonly (readonly ComparedRun[])[], key: MeasureKey) =>
    compareGroups(groups).find((measure) => measure.key === key)!.comparisons[0]!;
  const wrong = (each: number, m: number) =>
    shareOf(200, (seed) =>
      compareGroups([runs(each, 2 * seed, m), runs(each, 2 * seed + 1, m)]).some(
        ({ comparisons }) => comparisons[0]!.finding === 'differs',
      ),
    );
  const [least, most] = [2, 20];
  const needed = Array.from({ length: 40 }, (_, seed) => {
    const { runsNeeded } = finding([runs(4, 2 * seed + 5000, 3), runs(4, 2 * seed + 5001, 3)], 'sd');
    return Math.min(most, Math.max(least, runsNeeded ?? most));
  }).sort((a, b) => a - b);
  const typical = needed[needed.length >> 1]!;
  return [
    ...[3, 60].flatMap((m) =>
      [1, 2].map((each) =>
        atMost(
          `${each} like run${each > 1 ? 's' : ''} each, wandering over ${m} m: anything “differs”`,
          wrong(each, m),
          5,
        ),
      ),
    ),
    {
      what: '2 runs each, spread half as large again: found',
      value: shareOf(100, (s) => finding([runs(2, 2 * s, 3), runs(2, 2 * s + 1, 3, 1.5)], 'sd').finding === 'differs'),
      unit: '%',
    },
    { what: 'runs each said to show a spread a quarter larger, median', value: typical, unit: 'runs' },
    atLeast(
      'with so many runs it is found',
      shareOf(
        60,
        (s) => finding([runs(typical, 2 * s, 3), runs(typical, 2 * s + 1, 3, 1.25)], 'sd').finding === 'differs',
      ),
      80,
    ),
  ];
}
