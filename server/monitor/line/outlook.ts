import { type SpoolOutlook, spoolOutlook } from '../../escalation/spool-outlook.ts';
import { asCounted } from '../../strand/position.ts';
import { reelCapacity } from '../../strand/reel/reel-capacity.ts';
import { reelShapeOf } from '../../strand/reel/reel-shape.ts';
import { lengthOfAmountMm } from '../../strand/verdict/print-fit.ts';
import { wantedOn } from '../settings-to-parts.ts';
import type { LineSnapshot } from './line-snapshot.ts';

/** Of a full spool: what a picture of it cannot show apart. */
const NEAR_SHARE = 1 / 400;

/** The stretches that will be cut out of the spool being wound, for a picture of all of it: near ones are one. */
export function stretchesToCutOut({ cutOut, capacityMm }: SpoolOutlook): { fromMm: number; toMm: number }[] {
  const joined: { fromMm: number; toMm: number }[] = [];
  for (const { fromSpoolMm, toSpoolMm } of cutOut) {
    const last = joined.at(-1);
    if (last !== undefined && fromSpoolMm - last.toMm <= (capacityMm ?? 0) * NEAR_SHARE)
      last.toMm = Math.max(last.toMm, toSpoolMm);
    else joined.push({ fromMm: fromSpoolMm, toMm: toSpoolMm });
  }
  return joined;
}

/** What can still become of the spool being wound. */
export function outlookOf(now: LineSnapshot): SpoolOutlook {
  const { sections, spool, placesAreKnown, settings, cutOuts } = now;
  if (spool === null || !placesAreKnown) return spoolOutlook(sections, null);
  const { nominalMm, densityGPerCm3 } = settings;
  const diameterMm = now.meanDiameterMm ?? nominalMm;
  const { lengthMm: capacityMm } = reelCapacity(reelShapeOf(settings), diameterMm, densityGPerCm3);
  const wanted = wantedOn(spool, settings);
  const wantedMm = wanted === null ? null : lengthOfAmountMm(wanted, { diameterMm, densityGPerCm3 });
  return spoolOutlook(sections, { ...asCounted(spool, cutOuts), capacityMm, wantedMm });
}
