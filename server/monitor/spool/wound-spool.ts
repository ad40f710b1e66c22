import type { Run } from '../../entities/run.ts';
import type { CoilName, KeptCut, LengthCorrection, Spool, SpoolChoices } from '../../entities/spool.ts';
import { currentNames, type NamedStrand } from '../../strand/plan/coil-names.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import type { MeasuredSection, StatedSection } from '../../strand/section.ts';
import type { SpoolSettings } from '../run-settings.ts';
import type { LengthScale } from './length-service.ts';

/**
 * Everything that is known of a spool without reading its strand: where it is on the gauge's length, its true-length scale,
 * what it was wound under, what was found on it then, and what users stated, cut, named and chose since. `SpoolRepository`
 * builds it; whoever needs something of a spool gets this.
 */
export interface WoundSpool {
  readonly run: Run;
  readonly spool: Spool;
  /** As verdict, plan and coils call it: run 3, spool 1 = R3-1. */
  readonly name: string;
  readonly startGaugeMm: number;
  /** The outer end, as far as readings were kept. */
  readonly endGaugeMm: number;
  /** Where the next spool of the run begins; up to there a statement can only be about this one. */
  readonly reachGaugeMm: number;
  readonly scale: LengthScale;
  readonly correction: LengthCorrection | null;
  readonly settings: SpoolSettings;
  /** Recorded sections of its run, those still growing included. */
  readonly recorded: readonly MeasuredSection[];
  readonly stated: readonly StatedSection[];
  readonly cuts: readonly KeptCut[];
  readonly givenNames: readonly CoilName[];
  readonly choices: SpoolChoices;
}

export const USUAL_CHOICES: SpoolChoices = {
  printerId: 0,
  objective: 'mostLength',
  shortestMm: null,
  doubtful: 'cut',
  unknown: 'cut',
};

export function isWinding({ spool }: Pick<WoundSpool, 'spool'>): boolean {
  return spool.endGaugeMm === null;
}

/** True length on the spool, mm. */
export function woundMm({ startGaugeMm, endGaugeMm, scale }: WoundSpool): number {
  return Math.max(0, endGaugeMm - startGaugeMm) * scale.factor;
}

/** True position from the inner end of a gauge length; one off the spool is at its nearer end. */
export function positionMm({ startGaugeMm, endGaugeMm, scale }: WoundSpool, gaugeMm: number): number {
  return (Math.min(endGaugeMm, Math.max(startGaugeMm, gaugeMm)) - startGaugeMm) * scale.factor;
}

/** Gauge length of a true position from the inner end. */
export function gaugeMmAt({ startGaugeMm, scale }: WoundSpool, positionMm: number): number {
  return startGaugeMm + positionMm / scale.factor;
}

/** The strand that passed the gauge while the spool took it up: what is at the winder passed the gauge one path before. */
export function gaugeSpanWhileWound(on: WoundSpool): { readonly fromMm: number; readonly toMm: number } {
  const { gaugeToWinderMm } = on.settings;
  const fromMm = on.startGaugeMm + gaugeToWinderMm;
  return { fromMm, toMm: Math.max(fromMm, on.endGaugeMm + gaugeToWinderMm) };
}

/**
 * The cuts as the plan takes them: where they are kept by gauge length, at their place; else by their counts. A count is a
 * true length from where it was last known, so a tape measurement since then moves that place, not the count from it.
 */
export function doneCuts(on: WoundSpool): readonly DoneCut[] {
  const outerMm = (gaugeMm: number) => (on.endGaugeMm - gaugeMm) * on.scale.factor;
  const countedTo = (gaugeMm: number, { knownToGaugeMm, lengthFactor }: NonNullable<KeptCut['place']>) =>
    outerMm(knownToGaugeMm) + (knownToGaugeMm - gaugeMm) * lengthFactor;
  return on.cuts.map(({ action, countedMm, landmarkCountedMm, reachedEnd, place }) => ({
    action,
    countedMm,
    ...(landmarkCountedMm === null ? {} : { landmarkCountedMm }),
    ...(reachedEnd ? { reachedEnd: true } : {}),
    ...(place === null
      ? {}
      : {
          placed: {
            fromMm: countedTo(place.fromGaugeMm, place),
            toMm: countedTo(place.toGaugeMm, place),
            knownToMm: outerMm(place.knownToGaugeMm),
            knownAfterMm: outerMm(place.knownAfterGaugeMm),
          },
        }),
  }));
}

/** The names that count, on the strand that they were given to, mm from its inner end; those without a place are left out. */
export function namedStrand(on: WoundSpool): readonly NamedStrand[] {
  return currentNames(
    on.givenNames.flatMap(({ name, place }) =>
      place === null
        ? []
        : [{ name, fromMm: positionMm(on, place.fromGaugeMm), toMm: positionMm(on, place.toGaugeMm) }],
    ),
  );
}

export function nameOfSpool({ runId, ordinal }: Pick<Spool, 'runId' | 'ordinal'>): string {
  return `R${runId}-${ordinal}`;
}
