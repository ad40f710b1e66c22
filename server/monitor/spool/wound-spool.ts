import { type Run, runName } from '../../entities/run.ts';
import type { CoilName, KeptCut, LengthCorrection, Spool, SpoolChoices, Weighing } from '../../entities/spool.ts';
import { currentNames, type NamedStrand } from '../../strand/plan/coil-names.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { gaugeLengthMm, type StrandOnWinder, type Stretch, spoolPositionMm } from '../../strand/position.ts';
import type { MeasuredSection, StatedSection } from '../../strand/section.ts';
import type { UnreadableSection } from '../ports/record.ts';
import type { SpoolSettings } from '../run/run-settings.ts';
import type { LengthScale } from './length-service.ts';

/**
 * Everything about a spool that is known without reading its strand: its gauge lengths and length scale, the settings and
 * sections recorded during winding, and the statements, cuts, names and choices of users. Built by `SpoolRepository`.
 */
export interface WoundSpool {
  readonly run: Run;
  readonly spool: Spool;
  /** As in verdicts, plans and coil names: R3-1 = run 3, spool 1; K7M-R3-1 if house K7M made it. */
  readonly name: string;
  /** As printed: with the code of its house, also of this one. */
  readonly code: string;
  readonly startGaugeMm: number;
  /** The outer end, as far as readings are stored. */
  readonly endGaugeMm: number;
  /** Where the next spool of the run starts; statements up to there belong to this spool. */
  readonly reachGaugeMm: number;
  readonly scale: LengthScale;
  readonly correction: LengthCorrection | null;
  readonly weighing: Weighing | null;
  readonly settings: SpoolSettings;
  /** Recorded sections of its run, open ones included. */
  readonly recorded: readonly MeasuredSection[];
  /** Those of this spool that cannot be read. */
  readonly unreadable: readonly UnreadableSection[];
  readonly stated: readonly StatedSection[];
  /** Strand that users cut out before it was wound: gauge lengths, rising, without overlaps. */
  readonly cutOuts: readonly Stretch[];
  readonly cuts: readonly KeptCut[];
  readonly coilNames: readonly CoilName[];
  readonly choices: SpoolChoices;
}

export const USUAL_CHOICES: SpoolChoices = {
  printerId: 0,
  objective: 'mostLength',
  prints: [],
  shortestMm: null,
  doubtful: 'cut',
  unknown: 'cut',
};

export function isWinding({ spool }: Pick<WoundSpool, 'spool'>): boolean {
  return spool.endGaugeMm === null;
}

type Placed = Pick<WoundSpool, 'startGaugeMm' | 'endGaugeMm' | 'scale' | 'cutOuts'>;

/** What its positions follow from. */
export function strandOn({ startGaugeMm, scale, cutOuts }: Omit<Placed, 'endGaugeMm'>): StrandOnWinder {
  return { startGaugeMm, lengthFactor: scale.factor, cutOuts };
}

/** True length on the spool, mm. */
export function woundMm(woundSpool: Placed): number {
  return Math.max(0, spoolPositionMm(woundSpool.endGaugeMm, strandOn(woundSpool)));
}

/** True position, from the inner end, of a gauge length; outside the spool, its nearer end. */
export function positionMm(woundSpool: Placed, gaugeMm: number): number {
  return spoolPositionMm(
    Math.min(woundSpool.endGaugeMm, Math.max(woundSpool.startGaugeMm, gaugeMm)),
    strandOn(woundSpool),
  );
}

/** Gauge length of a true position from the inner end. */
export function gaugeMmAt(woundSpool: Omit<Placed, 'endGaugeMm'>, positionMm: number): number {
  return gaugeLengthMm(positionMm, strandOn(woundSpool));
}

/** Gauge lengths that passed while the spool was wound: one path length after the strand that is on it. */
export function gaugeSpanWhileWound(woundSpool: WoundSpool): { readonly fromMm: number; readonly toMm: number } {
  const { gaugeToWinderMm } = woundSpool.settings;
  const fromMm = woundSpool.startGaugeMm + gaugeToWinderMm;
  return { fromMm, toMm: Math.max(fromMm, woundSpool.endGaugeMm + gaugeToWinderMm) };
}

/**
 * The cuts as the plan needs them: at their place if it was stored as a gauge length, else by counted length. A count is a
 * true length from the last known place. A later tape measurement moves that place, but does not change the count.
 */
export function doneCuts(woundSpool: WoundSpool): readonly DoneCut[] {
  const strand = strandOn(woundSpool);
  const endMm = spoolPositionMm(woundSpool.endGaugeMm, strand);
  const outerMm = (gaugeMm: number) => endMm - spoolPositionMm(gaugeMm, strand);
  const placeFrom = (gaugeMm: number, { knownToGaugeMm, lengthFactor }: NonNullable<KeptCut['place']>) =>
    outerMm(knownToGaugeMm) + ((outerMm(gaugeMm) - outerMm(knownToGaugeMm)) / woundSpool.scale.factor) * lengthFactor;
  return woundSpool.cuts.map(({ action, countedMm, landmarkCountedMm, reachedEnd, place }) => ({
    action,
    countedMm,
    ...(landmarkCountedMm === null ? {} : { landmarkCountedMm }),
    ...(reachedEnd ? { reachedEnd: true } : {}),
    ...(place === null
      ? {}
      : {
          placed: {
            fromMm: placeFrom(place.fromGaugeMm, place),
            toMm: placeFrom(place.toGaugeMm, place),
            knownToMm: outerMm(place.knownToGaugeMm),
          },
        }),
  }));
}

/** Coil names that count, with their strand in mm from the inner end. Names without a place are left out. */
export function namedStrand(woundSpool: WoundSpool): readonly NamedStrand[] {
  return currentNames(
    woundSpool.coilNames.flatMap(({ name, place }) =>
      place === null
        ? []
        : [{ name, fromMm: positionMm(woundSpool, place.fromGaugeMm), toMm: positionMm(woundSpool, place.toGaugeMm) }],
    ),
  );
}

export function spoolName(run: Run, { ordinal }: Pick<Spool, 'ordinal'>): string {
  return `${runName(run)}-${ordinal}`;
}

/** @param house the code of this house */
export function spoolCode({ id, origin }: Run, { ordinal }: Pick<Spool, 'ordinal'>, house: string): string {
  return `${origin?.house ?? house}-R${origin?.number ?? id}-${ordinal}`;
}
