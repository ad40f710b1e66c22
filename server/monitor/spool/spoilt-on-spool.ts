import type { Defects } from '../../strand/comparison/stretch-sums.ts';
import type { Section } from '../../strand/section.ts';
import { positionMm, type WoundSpool } from './wound-spool.ts';

/**
 * What of a spool is to go, and where its blobs and necks begin; one that a person found good is none. A section that
 * words cut into parts has its peak in one of them only, and is counted there.
 */
export function spoiltOnSpool(sections: readonly Section[], on: WoundSpool): Defects {
  const trueMm = (gaugeMm: number) => positionMm(on, gaugeMm);
  const here = sections.filter(({ fromMm, toMm }) => toMm > on.startGaugeMm && fromMm < on.endGaugeMm);
  return {
    discards: here
      .filter(({ verdict }) => verdict === 'discard')
      .map(({ fromMm, toMm }) => ({ fromMm: trueMm(fromMm), toMm: trueMm(toMm) })),
    lumpsAtMm: here
      .filter(({ kind, verdict, peakAtMm }) => isLump(kind) && verdict !== 'good' && peakAtMm !== null)
      .map(({ fromMm }) => trueMm(fromMm)),
  };
}

function isLump(kind: Section['kind']): boolean {
  return kind === 'blob' || kind === 'neck';
}
