import type { LimitsView } from '../../server/api/contract/runs-and-spools.ts';

/**
 * How a diameter stands against the limits: in words, and whether it is worth a colour. `strandIsDue`: before the purging
 * an empty gauge is as it should be.
 */
export function diameterStatus(
  mm: number | null,
  limits: LimitsView,
  strandIsDue: boolean,
): { text: string; tone: 'ok' | 'abnormal' | 'danger' } {
  if (mm === null) return { text: 'no value', tone: 'ok' };
  if (mm > limits.hotendLimitMm) return { text: 'above the hotend limit', tone: 'danger' };
  if (mm < limits.strandPresentMm) return { text: 'no strand', tone: strandIsDue ? 'danger' : 'ok' };
  if (mm < limits.leastFeedableMm) return { text: 'below the least feedable', tone: 'danger' };
  if (Math.abs(mm - limits.nominalMm) > limits.toleranceMm + 1e-9) return { text: 'off tolerance', tone: 'abnormal' };
  return { text: 'in tolerance', tone: 'ok' };
}
