import fc from 'fast-check';
import { expect, it } from 'vitest';
import { betaQuantile, incompleteBeta } from '../../server/probability/beta.ts';
import { correlation } from '../../server/probability/correlation.ts';
import { chiSquareQuantile, chiSquareTail, normalQuantile } from '../../server/probability/distributions.ts';
import { firstIndex } from '../../server/probability/first-index.ts';
import { studentHalfWidth, studentTwoSided } from '../../server/probability/student-t.ts';

type Distribution = (...all: number[]) => number;

/** Arguments, then the value of SciPy 1.17.1: data/distributions.py. Others are in spectrum.test.ts. */
const SCIPY: readonly (readonly [(...all: never[]) => number, readonly (readonly number[])[]])[] = [
  [
    chiSquareTail,
    [
      [0, 3, 1.0],
      [0.1, 1, 0.7518296340458492],
      [1, 1, 0.31731050786291115],
      [5, 1, 0.025347318677468325],
      [3, 19, 0.9999892094656574],
      [28, 19, 0.08342862398216526],
      [110, 150, 0.9940420691638042],
      [250, 150, 5.534914104395087e-7],
    ],
  ],
  [
    incompleteBeta,
    [
      [-1, 2, 3, 0.0],
      [0, 2, 3, 0.0],
      [0.3, 2.5, 7, 0.6412224629717214],
      [0.9, 2.5, 7, 0.9999984479014957],
      [0.5, 0.5, 0.5, 0.5000000000000001],
      [0.7, 20, 3, 0.02066619697108149],
      [0.97, 200, 5, 0.26516824966508157],
      [1, 2, 3, 1.0],
      [2, 2, 3, 1.0],
    ],
  ],
  [
    betaQuantile,
    [
      [0, 3, 9, 0.0],
      [0.025, 3, 9, 0.06021773417290665],
      [0.5, 1, 40, 0.017179401454748937],
      [0.975, 60, 2, 0.9960043968326835],
    ],
  ],
  [
    studentTwoSided,
    [
      [0, 3, 1.0],
      [0.1, 1, 0.936548965138893],
      [2, 2.5, 0.1573914957579659],
      [10, 3, 0.0021283990584141503],
      [0.001, 50, 0.9992060947755017],
    ],
  ],
  [
    studentHalfWidth,
    [
      [0.01, 4, 0.013333827192310648],
      [0.5, 1, 1.0000000000000002],
      [0.95, 2.5, 3.5746548420036817],
      [0.9999, 0.7, 262639.07174878556],
      [0.99, 1000, 2.580754698065951],
    ],
  ],
];

it.each(SCIPY.map(([distribution, rows]) => [distribution.name, distribution, rows] as const))(
  '%s has the values of SciPy',
  (_, distribution, rows) => {
    for (const row of rows) {
      const value = (distribution as Distribution)(...row.slice(0, -1));
      const expected = row.at(-1)!;
      expect(Math.abs(value - expected), `${row} but ${value}`).toBeLessThanOrEqual(1e-15 + 1e-11 * Math.abs(expected));
    }
  },
);

it('refuses parameters that no distribution has, and shares that no value has', () => {
  for (const degrees of [0, -1, Number.NaN])
    for (const distribution of [chiSquareTail, studentTwoSided, studentHalfWidth, chiSquareQuantile])
      expect(() => distribution(0.5, degrees)).toThrow(/degrees of freedom must be above 0/);
  for (const [a, b] of [
    [0, 1],
    [1, 0],
    [Number.NaN, 1],
  ] as const)
    expect(() => incompleteBeta(0.5, a, b)).toThrow(`no parameters ${a} and ${b}`);
  for (const p of [-0.1, 1.1, Number.NaN]) expect(() => betaQuantile(p, 1, 2)).toThrow('a share from 0 to 1');
  for (const p of [-0.1, 1, Number.NaN]) expect(() => chiSquareQuantile(p, 2)).toThrow('from 0 to below 1');
  expect(chiSquareQuantile(0, 2)).toBeCloseTo(0, 20);
  for (const p of [0, 1, Number.NaN]) expect(() => normalQuantile(p)).toThrow('between 0 and 1');
  for (const p of [0, 1, Number.NaN]) expect(() => studentHalfWidth(p, 2)).toThrow('not between 0 and 1');
});

it("finds Pearson's correlation of Anscombe's quartet", () => {
  // Anscombe 1973, The American Statistician 27 (data from memory): r = 0.816 in each of the four.
  const x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5];
  const y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
  expect(correlation(x, y)).toBeCloseTo(0.816, 3);
  expect(
    correlation(
      x,
      y.map((value) => -value),
    ),
  ).toBeCloseTo(-0.816, 3);
  expect(correlation(x, x)).toBeCloseTo(1, 12);
  const level = x.map(() => 3);
  expect([correlation(x, level), correlation(level, x)]).toEqual([0, 0]);
});

it('finds the first index from which on a condition holds, as a search one by one does', () => {
  fc.assert(
    fc.property(fc.nat(20), fc.nat(20), fc.nat(45), (from, count, at) => {
      let first = from;
      while (first < from + count && first < at) first += 1;
      expect(firstIndex(from, from + count, (i) => i >= at)).toBe(first);
    }),
    { numRuns: 50 },
  );
});
