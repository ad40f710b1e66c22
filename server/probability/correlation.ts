/** Pearson's correlation of pairs, −1…1; 0 if one of the two never changes. */
export function correlation(a: readonly number[], b: readonly number[]): number {
  const [meanA, meanB] = [meanOf(a), meanOf(b)];
  let [aa, bb, ab] = [0, 0, 0];
  for (const [i, value] of a.entries()) {
    aa += (value - meanA) ** 2;
    bb += (b[i]! - meanB) ** 2;
    ab += (value - meanA) * (b[i]! - meanB);
  }
  return aa === 0 || bb === 0 ? 0 : ab / Math.sqrt(aa * bb);
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
