import { effectiveSections } from '../../strand/effective-sections.ts';
import { planCuts } from '../../strand/plan/cut-plan.ts';
import { emptyStretches, STRETCH_MM } from '../../strand/side-by-side/stretch-sums.ts';
import type { WindowColumns } from '../ports.ts';
import { keptOf } from './cutting-of.ts';
import { spoiltOnSpool } from './spoilt-on-spool.ts';
import { type SummedSpool, USUAL_CHOICES } from './spool-analysis.ts';
import { countErrorOf, type SpoolCase } from './spool-case.ts';
import { stretchesOnSpool } from './stretches-on-spool.ts';

const COLUMNS_MAX = 4000;

/** How many columns of a window make the stretches of a spool. */
export function columnsFor({ startGaugeMm, endGaugeMm }: SpoolCase): number {
  return Math.min(COLUMNS_MAX, Math.max(1, Math.round((endGaugeMm - startGaugeMm) / STRETCH_MM)));
}

/**
 * A spool whose single readings were let go, from what was summed up of them: the means of stretches stay, and the
 * sections as they were found while it was wound. How readings spread about these means can no longer be told.
 *
 * @param window of `columnsFor` columns of the channel d along the spool
 */
export function summedFromSummaries(on: SpoolCase, window: WindowColumns): SummedSpool {
  const woundMm = Math.max(0, on.endGaugeMm - on.startGaugeMm) * on.lengthFactor;
  const sections = effectiveSections(on.recorded, on.stated);
  const { nominalMm, strandPresentMm } = on.limits;
  const d = window.channels.d;
  const empty = emptyStretches(woundMm, spoiltOnSpool(sections, on), window.count.length);
  // Groups of readings fall into a column whole, so that some get more than their share and some nothing.
  const readings = window.count.reduce((sum, count) => sum + count, 0);
  const stretches = empty.map((sums, i) => {
    const [mean, least] = [d?.mean[i] ?? null, d?.min[i] ?? null];
    const untold = { squareMm3: Number.NaN, withinMm: Number.NaN, rangeSumMm: Number.NaN, ovalMm2: Number.NaN };
    // Readings without strand are in its mean: nothing can be said of such a stretch.
    if (mean === null || least === null || least < strandPresentMm) return { ...sums, ...untold };
    const measuredMm = (woundMm * window.count[i]!) / readings;
    return { ...sums, ...untold, measuredMm, offMm2: measuredMm * (mean - nominalMm) };
  });
  const plan = planCuts({
    ...USUAL_CHOICES,
    spoolName: on.name,
    woundMm,
    stretches: stretchesOnSpool(sections, on.startGaugeMm, on.lengthFactor, woundMm),
    shortestCoilMm: on.shortestCoilMm,
    countError: countErrorOf(on),
  });
  return { woundMm, stretches, tally: null, ...keptOf(plan) };
}
