import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fitRegression } from '../../../server/strand/statistics/regression.ts';

interface MadeUp {
  readonly dryingH: number;
  readonly sieveMm: number;
  readonly metres: number;
  readonly blobs: number;
}
const nights: readonly MadeUp[] = JSON.parse(readFileSync(new URL('made-up-nights.json', import.meta.url), 'utf8'));
const centred = (column: readonly number[]) => {
  const mean = column.reduce((sum, one) => sum + one, 0) / column.length;
  return column.map((one) => one - mean);
};
const columns = [
  centred(nights.map(({ dryingH }) => Number(dryingH >= 4))),
  centred(nights.map(({ dryingH }) => Number(dryingH >= 8))),
  centred(nights.map(({ sieveMm }) => Number(sieveMm >= 4))),
];
const rows = nights.map((_, i) => [1, ...columns.map((column) => column[i]!)]);
const observed = {
  y: nights.map(({ blobs }) => blobs),
  exposure: nights.map(({ metres }) => metres / 100),
  family: 'count',
} as const;

const close = (values: readonly number[], reference: readonly number[], digits: number) => {
  expect(values).toHaveLength(reference.length);
  for (const [i, value] of values.entries()) expect(value).toBeCloseTo(reference[i]!, digits);
};
const errors = ({ covariance }: { covariance: readonly (readonly number[])[] }) =>
  covariance.map((row, i) => Math.sqrt(row[i]!));

describe('a regression of counts', () => {
  // statsmodels 0.13.5: negative binomial GLM with the variance between runs that makes Pearson's statistic 20. Script: reference-regression.py
  it('agrees with statsmodels without a prior', () => {
    const fit = fitRegression(
      rows,
      observed,
      [1, 1, 1, 1].map(() => Number.POSITIVE_INFINITY),
    )!;
    close(fit.coefficients, [1.5176576393790588, -0.2930963626073593, -1.122971788821534, -0.25177548469978167], 6);
    close(errors(fit), [0.1453976411915533, 0.31048764908162446, 0.37988184943535735, 0.27676402194938515], 6);
    expect(fit.betweenRuns).toBeCloseTo(0.2337064097098598, 6);
    expect(fit.degreesOfFreedom).toBeCloseTo(20, 9);
  });

  // The same likelihood with the prior, minimised by scipy. Script: reference-regression.py
  it('agrees with an independent optimiser with a prior', () => {
    const fit = fitRegression(rows, observed, [Number.POSITIVE_INFINITY, 0.5, 0.5, 0.5])!;
    close(fit.coefficients, [1.5586544774399234, -0.3286240487955452, -0.7470754478768569, -0.18291651177059917], 5);
    close(errors(fit), [0.1436614666781578, 0.26538231662629985, 0.2915116648955188, 0.2460818302677017], 5);
    expect(fit.betweenRuns).toBeCloseTo(0.2596970188597796, 5);
    expect(fit.degreesOfFreedom).toBeCloseTo(20.863852367744002, 4);
  });

  it('gives up where the runs determine nothing', () => {
    const none = { ...observed, y: observed.y.map(() => 0) };
    expect(fitRegression(rows, none, [Number.POSITIVE_INFINITY, 1, 1, 1])).toBeNull();
    const two = { y: [3, 9], exposure: [1, 1], family: 'count' } as const;
    const free = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
    expect(
      fitRegression(
        [
          [1, -0.5],
          [1, 0.5],
        ],
        two,
        free,
      ),
    ).toBeNull();
  });
});

describe('a regression of measured values', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, 5.6.1.5 (eddy current probe, 2³ factorial in standard order), Yates analysis: mean
  // 2.65875, X1 3.10250, X2 −0.86750 and X3 0.21250. Effects as printed there; the eight readings from memory (they give these effects).
  it('finds the effects of a published factorial experiment', () => {
    const y = [1.7, 4.57, 0.55, 3.39, 1.51, 4.59, 0.67, 4.29];
    const design = y.map((_, i) => [1, ...[0, 1, 2].map((bit) => ((i >> bit) & 1) - 0.5)]);
    const fit = fitRegression(
      design,
      { y, exposure: y.map(() => 1), family: 'normal' },
      design[0]!.map(() => Number.POSITIVE_INFINITY),
    )!;
    close(fit.coefficients, [2.65875, 3.1025, -0.8675, 0.2125], 9);
    expect(fit.degreesOfFreedom).toBeCloseTo(4, 9);
  });
});
