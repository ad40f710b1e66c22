import { statisticsClaims } from './claims/statistics.ts';
import type { BenchRow } from './report.ts';

/** How often a sentence says more than is known, subject by subject, on seeds held out. */
export async function benchClaims(): Promise<BenchRow[]> {
  return [...statisticsClaims()];
}
