import type { LimitsView } from '../../server/api/contract/runs-and-spools.ts';

/**
 * A diameter compared with the limits: a text and a tone. Unless `strandIsDue`, an empty gauge is normal: before purging
 * there is no strand.
 */
export function diameterStatus(
  mm: number | null,
  limits: LimitsView,
  strandIsDue: boolean,
): { text: string; tone: 'ok' | 'abnormal' | 'danger' } {
  if (mm === null) return { text: 'no value', tone: 'ok' };
  if (mm > limits.hotendLimitMm) return { text: 'above the hotend limit', tone: 'danger' };
  if (mm < limits.strandPresentMm) return { text: 'no strand', tone: strandIsDue ? 'danger' : 'ok' };
  if (mm < limits.smallestFeedableMm) return { text: 'below the smallest feedable', tone: 'abnormal' };
  if (Math.abs(mm - limits.nominalMm) > limits.toleranceMm + 1e-9)
    return { text: 'out of tolerance', tone: 'abnormal' };
  return { text: 'in tolerance', tone: 'ok' };
}
