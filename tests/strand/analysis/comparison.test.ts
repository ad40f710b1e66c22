import { describe, expect, it } from 'vitest';
import { type ComparedRun, compareGroups } from '../../../server/strand/comparison/compare-groups.ts';
import { concludeComparison, type GroupOfRuns } from '../../../server/strand/comparison/conclusion.ts';
import type { MeasureKey } from '../../../server/strand/comparison/measures.ts';
import { alikeText, type PreparedRun, preparationDifferences } from '../../../server/strand/comparison/preparation.ts';
import { batchesOf, type RunFigures, valueOfRun, valuesOfRun } from '../../../server/strand/comparison/run-value.ts';
import { runsNeededText } from '../../../server/strand/comparison/runs-needed-text.ts';
import { stretchesOfStrand, sumOfStretches } from '../../../server/strand/comparison/stretch-sums.ts';
import { lengthWeights } from '../../../server/strand/statistics/length-weights.ts';
import { ovality } from '../../../server/strand/statistics/ovality.ts';
import { statisticsAgainst, strandBasis } from '../../../server/strand/statistics/strand-statistics.ts';
import { normal, seeded } from '../../chance.ts';
import { IS_LONG_CHECK } from '../../long-check.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05 };
const PITCH_MM = 5;

interface Made {
  readonly runId: number;
  readonly seed: number;
  readonly lengthMm?: number;
  readonly meanMm?: number;
  readonly noiseMm?: number;
  readonly lumpsAtMm?: readonly number[];
}

/** Strand that wanders over some metres, with noise on top. */
function strandOf({ seed, lengthMm = 200_000, meanMm = 1.75, noiseMm = 0.01 }: Made) {
  const next = normal(seeded(seed));
  const n = Math.round(lengthMm / PITCH_MM);
  const positionMm = Float64Array.from({ length: n }, (_, i) => i * PITCH_MM);
  const rho = Math.exp(-PITCH_MM / 3000);
  let wander = 0.01 * next();
  const x = new Float64Array(n);
  const y = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    wander = rho * wander + Math.sqrt(1 - rho * rho) * 0.01 * next();
    x[i] = meanMm + wander + noiseMm * next();
    y[i] = meanMm + wander + noiseMm * next();
  }
  const diameterMm = x.map((mm, i) => (mm + y[i]!) / 2);
  return { positionMm, diameterMm, weightsMm: lengthWeights(positionMm), axesMm: { x, y } };
}

function run(made: Made): RunFigures & ComparedRun {
  const { lengthMm = 200_000, lumpsAtMm = [] } = made;
  const discards = lumpsAtMm.map((mm) => ({ fromMm: mm, toMm: mm + 20 }));
  const figures = {
    nominalMm: LIMITS.nominalMm,
    stretches: stretchesOfStrand(strandOf(made), lengthMm, LIMITS, { discards, lumpsAtMm }),
    keptMm: lengthMm * 0.9,
    longestCoilMm: lengthMm / 2,
    heat: { zone: 2, sdK: 0.4 },
    alarms: { callsAt: lumpsAtMm.map((mm) => mm / lengthMm), hours: 2 },
  };
  return { ...figures, line: 0, values: valuesOfRun(figures) };
}

const every = (stepMm: number, lengthMm = 200_000) =>
  Array.from({ length: Math.floor(lengthMm / stepMm) }, (_, i) => (i + 0.5) * stepMm);

describe('the stretches of a run', () => {
  it('add up to the statistics of the whole spool', () => {
    const strand = strandOf({ runId: 1, seed: 3, meanMm: 1.77, lengthMm: 50_000 });
    strand.diameterMm.fill(Number.NaN, 300, 700);
    const sums = sumOfStretches(
      stretchesOfStrand(strand, 50_000, LIMITS, {
        discards: [
          { fromMm: 990, toMm: 1010 },
          { fromMm: 1000, toMm: 1500 },
        ],
        lumpsAtMm: [10, 49_999, 50_000],
      }),
    );
    const basis = strandBasis(strand.positionMm, strand.diameterMm, { individualsEveryMm: 250 });
    const known = statisticsAgainst(basis, LIMITS);
    expect(sums.measuredMm).toBeCloseTo(known.tolerance.measuredMm, 6);
    expect(sums.withinMm / sums.measuredMm).toBeCloseTo(known.tolerance.within, 10);
    const figures = { ...run({ runId: 1, seed: 3 }), stretches: [sums] };
    expect(valueOfRun(figures, 'mean').value).toBeCloseTo(known.meanMm, 10);
    // One is divided by n, the other by n − 1, with n about 9,600.
    expect(valueOfRun(figures, 'sd').value).toBeCloseTo(known.sdMm, 5);
    expect(valueOfRun(figures, 'within').value).toBeCloseTo(known.tolerance.within, 10);
    // Cp = tolerance / 3σ within (NIST/SEMATECH e-Handbook 6.1.6).
    expect(valueOfRun(figures, 'shortTerm').value).toBeCloseTo(0.05 / 3 / known.capability!.cp.value, 8);
    const x = strand.axesMm.x.map((mm, i) => (Number.isNaN(strand.diameterMm[i]!) ? Number.NaN : mm));
    expect(valueOfRun(figures, 'ovality').value).toBeCloseTo(ovality(x, strand.axesMm.y, strand.weightsMm)!.meanMm, 10);
    expect(sums.discardMm).toBeCloseTo(510, 9);
    expect(sums.lumps).toBe(3);
  });

  it('make ten to a hundred batches of any run of ten metres or more', () => {
    for (const n of [10, 19, 20, 21, 39, 41, 299, 2601]) {
      const batches = batchesOf(run({ runId: 1, seed: 1, lengthMm: n * 1000 }).stretches);
      expect(batches.length).toBeGreaterThanOrEqual(10);
      expect(batches.length).toBeLessThanOrEqual(100);
      expect(batches.reduce((sum, { woundMm }) => sum + woundMm, 0)).toBeCloseTo(n * 1000, 3);
    }
  });

  it('give no interval where there are too few', () => {
    const short = valueOfRun(run({ runId: 1, seed: 1, lengthMm: 8000 }), 'mean');
    expect(short.value).toBeGreaterThan(1.7);
    expect(short.interval).toBeNull();
  });
});

const findings = (groups: readonly (readonly ComparedRun[])[]) =>
  new Map(compareGroups(groups).map(({ key, comparisons }) => [key, comparisons[0]!]));

describe('a comparison of two runs', () => {
  it.skipIf(!IS_LONG_CHECK)('finds a difference between like runs in at most one of twenty pairs', () => {
    let wrong = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const pair = [[run({ runId: 1, seed })], [run({ runId: 2, seed: seed + 1000 })]];
      if ([...findings(pair).values()].some(({ finding }) => finding === 'differs')) wrong += 1;
    }
    // 0.05 · 60 = 3; more than 7 of 60 has a chance of 1 % (binomial).
    expect(wrong).toBeLessThanOrEqual(7);
  });

  it('finds the differences that were made, and no others', () => {
    const found = findings([
      [run({ runId: 1, seed: 5, lumpsAtMm: every(8000) })],
      [run({ runId: 2, seed: 6, noiseMm: 0.02, lumpsAtMm: every(50_000) })],
    ]);
    const differing = [...found].flatMap(([key, { finding }]) => (finding === 'differs' ? [key] : []));
    expect(new Set(differing)).toEqual(
      new Set<MeasureKey>(['blobsAndNecks', 'within', 'discard', 'sd', 'shortTerm', 'ovality', 'alarms']),
    );
    // 25 against 4 blobs; noise of two axes doubled.
    expect(found.get('blobsAndNecks')?.difference).toBeCloseTo(4 / 25, 3);
    expect(found.get('ovality')?.lower).toBeLessThan(2);
    expect(found.get('ovality')?.upper).toBeGreaterThan(2);
    expect(found.get('kept')).toMatchObject({ basis: null, p: null, finding: 'unknown' });
  });

  it('takes clumps into account', () => {
    const clump = (atMm: number) => Array.from({ length: 8 }, (_, i) => atMm + i * 30);
    const clumped = run({ runId: 1, seed: 5, lumpsAtMm: [20_000, 90_000, 150_000].flatMap(clump) });
    const lone = run({ runId: 2, seed: 6, lumpsAtMm: every(25_000) });
    const { p } = findings([[clumped], [lone]]).get('blobsAndNecks')!;
    const spread = run({ runId: 3, seed: 5, lumpsAtMm: every(8333) });
    expect(findings([[spread], [lone]]).get('blobsAndNecks')?.p).toBeLessThan(0.02);
    expect(p).toBeGreaterThan(0.2);
  });
});

describe('the runs needed', () => {
  const blobs = (counts: readonly number[], first: number) =>
    counts.map((count, i) => run({ runId: first + i, seed: first + i, lumpsAtMm: every(200_000 / (count + 0.5)) }));

  it('follow from the counts of single runs, as a lower limit', () => {
    const needed = (count: number) =>
      findings([blobs([count], 1), blobs([count], 11)]).get('blobsAndNecks')!.runsNeeded!;
    // Counts of 25 vary by a fifth: (t + t) · 0.2 · √(2/N) ≤ ln 2 at 0.05/10.
    expect(needed(25)).toBeGreaterThanOrEqual(4);
    expect(needed(25)).toBeLessThanOrEqual(6);
    expect(needed(4)).toBeGreaterThan(needed(25));
  });

  it('follow from the spread between runs where there are several', () => {
    const even = findings([blobs([24, 25], 1), blobs([25, 26], 11)]).get('blobsAndNecks')!;
    const uneven = findings([blobs([8, 40], 1), blobs([12, 44], 11)]).get('blobsAndNecks')!;
    expect(uneven.runsNeeded!).toBeGreaterThan(2 * even.runsNeeded!);
    expect(findings([blobs([5], 1), blobs([5], 11)]).get('longestCoil')?.runsNeeded).toBeNull();
  });

  it.skipIf(!IS_LONG_CHECK)('are said as how often to run each again', () => {
    const text = (groups: readonly (readonly ComparedRun[])[]) =>
      runsNeededText(compareGroups(groups), groups[0]!.length);
    const needed = findings([blobs([24, 25], 1), blobs([25, 26], 11)]).get('blobsAndNecks')!.runsNeeded! - 2;
    const times = ['', 'once', 'twice', 'three times', 'four times'][needed];
    expect(text([blobs([24, 25], 1), blobs([25, 26], 11)])).toContain(`To see blobs halved, run each ${times} more`);
    expect(text([blobs([24], 1), blobs([26], 11)])).toMatch(
      /^To see blobs halved, run each at least \w+( times)? more; to see/,
    );
    expect(text([blobs([8, 40, 2], 1), blobs([2, 44, 9], 11)])).toContain('even 50 runs of each are too few');
  });
});

describe('a comparison of groups of runs', () => {
  // 0.02 mm between runs, and next to nothing within them.
  const set = (first: number, means: readonly number[]) =>
    means.map((meanMm, i) => run({ runId: first + i, seed: first + i, meanMm, noiseMm: 0.002 }));

  it('treats each run as one value, however many readings it has', () => {
    const [a, b] = [set(1, [1.73, 1.77, 1.75]), set(11, [1.76, 1.74, 1.78])];
    expect(findings([[a[0]!], [b[0]!]]).get('mean')?.finding).toBe('differs');
    const { basis, p, finding } = findings([a, b]).get('mean')!;
    // Welch of 1.73, 1.77, 1.75 and 1.76, 1.74, 1.78: t = 0.612 with 4 degrees of freedom, p = 0.573 (SciPy 1.17). The
    // runs themselves wander by about a hundredth.
    expect(basis).toBe('runs');
    expect(Math.abs(p! - 0.573)).toBeLessThan(0.15);
    expect(finding).toBe('chance');
  });

  it('finds what is large compared with the spread between runs', () => {
    const found = findings([set(1, [1.731, 1.733, 1.732]), set(11, [1.781, 1.779, 1.78])]).get('mean')!;
    expect(found.finding).toBe('differs');
    expect(found.lower).toBeLessThan(0.048);
    expect(found.upper).toBeGreaterThan(0.048);
  });

  it('compares one run with several, in either order', () => {
    const several = set(1, [1.74, 1.75, 1.76, 1.75]);
    const [lone] = set(20, [1.79]);
    const there = findings([several, [lone!]]).get('mean')!;
    const back = findings([[lone!], several]).get('mean')!;
    expect(there.difference).toBeCloseTo(-back.difference, 12);
    expect(there.lower).toBeCloseTo(-back.upper, 12);
    expect(there.p).toBeCloseTo(back.p!, 12);
  });
});

const prepared = (name: string, preparation: string, more: Partial<PreparedRun> = {}): PreparedRun => ({
  line: 0,
  lineName: 'Bench',
  lot: { name, preparation, values: {} },
  setpointsC: [180, 195],
  speedMmPerS: 40,
  screwTurnsPerMin: null,
  ...more,
});

describe('the differences of preparation', () => {
  it('name what differs, and nothing that is the same', () => {
    const a = prepared('Grey supports', 'Sorted, shredded to 4,5 mm, dried 4 h at 50 °C');
    const b = prepared('grey supports', 'dried 8 h at 50 °C;  shredded to 4,5 mm; sorted; sieved', {
      setpointsC: [180.2, 205],
      speedMmPerS: 40.5,
    });
    expect(preparationDifferences([[a], [b]])).toEqual([
      { what: 'Drying time', values: ['4 h', '8 h'], from: 'user', isOwnWords: false },
      { what: 'sieved', values: [null, 'sieved'], from: 'user', isOwnWords: true },
      { what: 'Set-point of zone 2', values: ['195 °C', '205 °C'], from: 'line', isOwnWords: false },
    ]);
  });

  it('leave out what also differs within a group', () => {
    const at = (speedMmPerS: number) => prepared('Moss', '', { speedMmPerS });
    expect(
      preparationDifferences([
        [at(30), at(40)],
        [at(35), at(45)],
      ]),
    ).toEqual([]);
    expect(
      preparationDifferences([
        [at(30), at(40)],
        [at(50), at(50.4)],
      ]),
    ).toEqual([
      { what: 'Speed of the strand', values: ['30.0 mm/s to 40.0 mm/s', '50.2 mm/s'], from: 'line', isOwnWords: false },
    ]);
  });

  it('treat the same steps in any order as alike', () => {
    const of = (name: string, preparation: string) => ({ name, preparation, values: {} });
    expect(alikeText(of('Moss', 'Sorted, dried 4 h'), of('moss ', 'dried 4 h; sorted'))).toBe(true);
    expect(alikeText(of('Moss', 'dried 4 h'), of('Moss', 'dried 8 h'))).toBe(false);
    expect(alikeText(null, null)).toBe(false);
    // A full stop, a line break or a comma separates steps, but not within a number.
    const steps = of('Moss', 'Dried 4.5 h at 50 °C. Sieved\n30 % new pellets');
    expect(alikeText(steps, of('Moss', 'sieved, 30 % new pellets; dried 4.5 h at 50 °C'))).toBe(true);
    expect(alikeText(steps, of('Moss', 'sieved, 30 % new pellets; dried 4; 5 h at 50 °C'))).toBe(false);
  });
});

describe('the conclusion', () => {
  const groups = (starts: readonly (readonly number[])[]): GroupOfRuns[] =>
    starts.map((runs, i) => ({
      name: runs.length === 1 ? `run ${i + 1}` : `group ${'AB'[i]}`,
      runs: runs.map((startedMs, k) => ({ name: `run ${10 * i + k}`, line: 0, startedMs, hasLot: true })),
    }));
  const dried = preparationDifferences([[prepared('Moss', 'dried 4 h')], [prepared('Moss', 'dried 8 h')]]);
  const one = (seed: number, apartMm: number) => run({ runId: seed, seed, lumpsAtMm: every(apartMm) });

  it('says of one run on each side that they differ, that the cause is not shown, and what would show it', () => {
    const measures = compareGroups([[one(1, 5000)], [one(2, 40_000)]]);
    const conclusion = concludeComparison(groups([[0], [1]]), dried, measures);
    expect(conclusion.preparation).toBe('Different: drying time 8 h in run 2, 4 h in run 1.');
    expect(conclusion.result).toContain('Blobs and thin spots: 2.5 in 100 m in run 2, 20 in 100 m in run 1');
    expect(conclusion.result).toContain('more than chance within these runs');
    expect(conclusion.limitations[0]).toContain('one run of each does not show');
    expect(conclusion.nextStep).toContain('run 1, run 2, run 1, run 2');
  });

  it('says where nothing was found, and that this is not “no difference”', () => {
    const measures = compareGroups([[one(1, 9000)], [one(2, 9000)]]);
    const conclusion = concludeComparison(groups([[0], [1]]), dried, measures);
    expect(conclusion.result).toMatch(/^No result differs by more than chance\./);
    expect(conclusion.limitations.join(' ')).toContain('not “no difference”');
  });

  it('mentions that one group was wound before the other, and that two things were changed', () => {
    const both = [...dried, ...preparationDifferences([[prepared('Moss', '')], [prepared('Moss', 'sieved')]])];
    const measures = compareGroups([
      [one(1, 5000), one(2, 5100), one(3, 4900)],
      [one(4, 40_000), one(5, 50_000), one(6, 45_000)],
    ]);
    const inBlocks = concludeComparison(
      groups([
        [0, 1, 2],
        [3, 4, 5],
      ]),
      both,
      measures,
    );
    expect(inBlocks.result).toContain('That is more than chance.');
    expect(inBlocks.limitations.join(' ')).toContain('2 things were different at once');
    expect(inBlocks.limitations.join(' ')).toContain('came before');
    const inTurn = concludeComparison(
      groups([
        [0, 2, 4],
        [1, 3, 5],
      ]),
      dried,
      measures,
    );
    expect(inTurn.limitations).toEqual([]);
    expect(inTurn.nextStep).toContain('more certain');
  });
});
