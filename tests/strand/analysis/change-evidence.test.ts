import { describe, expect, it } from 'vitest';
import { changeEvidence } from '../../../server/strand/statistics/change-evidence.ts';
import { ar1, normals } from './noise.ts';

/** Twice the log likelihood of normal values with this covariance, their scale and the fitted columns the likeliest. */
function likelihood(
  values: readonly number[],
  columns: readonly (readonly number[])[],
  covariance: number[][],
): number {
  const n = values.length;
  const lower = choleskyOf(covariance);
  const whiten = (column: readonly number[]) => {
    const out: number[] = [];
    for (let i = 0; i < n; i++) {
      let rest = column[i]!;
      for (let j = 0; j < i; j++) rest -= lower[i]![j]! * out[j]!;
      out.push(rest / lower[i]![i]!);
    }
    return out;
  };
  // Gram-Schmidt: what is left of the values beside each column in turn.
  const dot = (a: readonly number[], b: readonly number[]) => a.reduce((sum, one, i) => sum + one * b[i]!, 0);
  const beside = (a: readonly number[], b: readonly number[]) =>
    a.map((one, i) => one - (dot(a, b) / dot(b, b)) * b[i]!);
  const basis: number[][] = [];
  for (const column of columns) basis.push(basis.reduce(beside, whiten(column)));
  const left = basis.reduce(beside, whiten(values));
  const logDeterminant = 2 * lower.reduce((sum, row, i) => sum + Math.log(row[i]!), 0);
  return -n * Math.log(dot(left, left) / n) - logDeterminant;
}

function choleskyOf(matrix: number[][]): number[][] {
  const lower = matrix.map((row) => row.map(() => 0));
  for (let i = 0; i < matrix.length; i++)
    for (let j = 0; j <= i; j++) {
      let rest = matrix[i]![j]!;
      for (let k = 0; k < j; k++) rest -= lower[i]![k]! * lower[j]![k]!;
      lower[i]![j] = i === j ? Math.sqrt(rest) : rest / lower[j]![j]!;
    }
  return lower;
}

/** The models as covariances: noise, and wander over 1 to 64 points with up to 64 times its movement as noise. */
function evidenceByCovariances(values: readonly number[], shape: readonly number[]): number {
  const level = values.map(() => 1);
  const WANDERS = [1, 2, 4, 8, 16, 32, 64];
  const NOISES = [0, 0.3, 1, 3, 8, 24, 64];
  const models = [[0, 0], ...WANDERS.flatMap((points) => NOISES.map((noise) => [points, noise]))];
  const [without, withChange] = [[level], [level, shape]].map((columns) =>
    Math.max(
      ...models.map(([points, noise]) => {
        const phi = points === 0 ? 0 : Math.exp(-1 / points!);
        const extra = noise! * (1 - phi ** 2);
        const covariance = values.map((_, i) => values.map((_, j) => (i === j ? 1 + extra : phi ** Math.abs(i - j))));
        return likelihood(values, columns, covariance) - (points === 0 ? 0 : 4);
      }),
    ),
  );
  return Math.max(0, withChange! - without!);
}

describe('the evidence for a change of level', () => {
  const shape = Array.from({ length: 40 }, (_, i) => (i < 25 ? 0 : 1));

  it.each([
    ['noise', normals(40, 3)],
    ['a wander', ar1(40, 0.9, 4)],
    ['a step in noise', normals(40, 5).map((z, i) => z + 3 * shape[i]!)],
    ['a step in wander and noise', ar1(40, 0.95, 6).map((w, i) => w + normals(40, 7)[i]! + 4 * shape[i]!)],
  ])('is that of the full covariance matrices: %s', (_, values) => {
    const diameters = Array.from(values, (z) => 1.75 + 0.01 * z);
    expect(changeEvidence(diameters, shape)).toBeCloseTo(evidenceByCovariances(diameters, shape), 6);
  });

  it('does not depend on the scales of values and shape, nor on the level', () => {
    const values = normals(40, 8).map((z, i) => z + 2 * shape[i]!);
    const found = changeEvidence(values, shape);
    expect(found).toBeGreaterThan(10);
    expect(
      changeEvidence(
        values.map((z) => 1.75 + 0.002 * z),
        shape.map((s) => 5 - 3 * s),
      ),
    ).toBeCloseTo(found, 6);
  });

  it('is nothing for equal values, and large for a bare step', () => {
    expect(changeEvidence(new Float64Array(40).fill(1.75), shape)).toBe(0);
    expect(
      changeEvidence(
        shape.map((s) => 1.75 + 0.01 * s),
        shape,
      ),
    ).toBeGreaterThan(100);
  });
});
