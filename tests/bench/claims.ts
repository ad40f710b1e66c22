import { benchStatistics } from './claims/statistics.ts';
import { benchSure } from './claims/sure.ts';
import type { BenchRow } from './report.ts';

/** How often what Strandward claims is false, one file for each subject. */
export async function benchClaims(): Promise<BenchRow[]> {
  return [...benchSure(), ...benchStatistics()];
}
