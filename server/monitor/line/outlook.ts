import { type SpoolOutlook, spoolOutlook } from '../../escalation/spool-outlook.ts';
import { asCounted } from '../../strand/position.ts';
import { reelCapacity } from '../../strand/reel/reel-capacity.ts';
import { reelShapeOf } from '../../strand/reel/reel-shape.ts';
import { lengthOfAmountMm } from '../../strand/verdict/print-fit.ts';
import type { LineSnapshot } from './line-snapshot.ts';

/** What can still become of the spool being wound. */
export function outlookOf(now: LineSnapshot): SpoolOutlook {
  const { sections, spool, placesAreKnown, settings, cutOuts } = now;
  if (spool === null || !placesAreKnown) return spoolOutlook(sections, null);
  const { nominalMm, densityGPerCm3 } = settings;
  const diameterMm = now.meanDiameterMm ?? nominalMm;
  const { lengthMm: capacityMm } = reelCapacity(reelShapeOf(settings), diameterMm, densityGPerCm3);
  const { wanted } = spool;
  const wantedMm = wanted === undefined ? null : lengthOfAmountMm(wanted, { diameterMm, densityGPerCm3 });
  return spoolOutlook(sections, { ...asCounted(spool, cutOuts), capacityMm, wantedMm });
}
