import type { SectionKind } from '../section.ts';
import type { PlanStretch } from './cut-request.ts';
import { type BadStretch, type Landmark, landmarksBetween, type SpoolMap } from './spool-map.ts';

export interface LandmarkHint {
  readonly kind: SectionKind | null;
  readonly peakMm: number | null;
  readonly lengthMm: number;
  /** From the outer end of the full spool. */
  readonly peakAtOuterMm: number;
  /** Where the counter should be when it passes, and the most that it may be off by. */
  readonly afterCutMm: number;
  readonly countErrorMm: number;
  /** To be counted on from there to the end of the step. */
  readonly thenMm: number;
  readonly sentence: string;
}

const NAMES: Record<SectionKind, string> = {
  blob: 'a blob',
  neck: 'a thin spot',
  offTolerance: 'a stretch out of tolerance',
  outOfRound: 'an out-of-round stretch',
  drift: 'a stretch that has drifted',
  surging: 'a stretch that surges',
  strandLost: 'the place where the strand was lost',
  unknown: 'a stretch that was not measured',
  marked: 'a stretch that was marked by hand',
  joint: 'a joint',
};

/** What the user at the rewinder should see next, as a check of the count. */
export function landmarkHint(
  { stretch, fromMm, toMm, peakAtOuterMm }: Landmark,
  count: Pick<LandmarkHint, 'afterCutMm' | 'countErrorMm' | 'thenMm'>,
): LandmarkHint {
  const lengthMm = toMm - fromMm;
  return {
    kind: stretch.kind ?? null,
    peakMm: stretch.peakMm ?? null,
    lengthMm,
    peakAtOuterMm,
    ...count,
    sentence: `${when(count)}, you should see ${nameOf(stretch)}, ${lengthText(lengthMm)} long.`,
  };
}

/** What a user would call a bad stretch: the first thing to see in it. */
export function stretchName(map: SpoolMap, { fromMm, toMm }: BadStretch): string {
  const seen = landmarksBetween(map, fromMm, toMm)[0];
  return seen === undefined ? 'a bad stretch' : nameOf(seen.stretch);
}

function nameOf({ kind, peakMm }: PlanStretch): string {
  const peak = peakMm === null || peakMm === undefined ? '' : ` of ${peakMm.toFixed(2)} mm`;
  return `${kind === undefined ? 'a bad stretch' : NAMES[kind]}${peak}`;
}

function when({ afterCutMm, countErrorMm }: Pick<LandmarkHint, 'afterCutMm' | 'countErrorMm'>): string {
  const fromMm = Math.max(0, Math.floor(afterCutMm - countErrorMm));
  const toMm = Math.max(0, Math.ceil(afterCutMm + countErrorMm));
  return fromMm === 0
    ? `Within the first ${lengthText(toMm)}`
    : `Between ${lengthText(fromMm)} and ${lengthText(toMm)}`;
}

/** In mm below a metre, else in m with two decimals. */
export function lengthText(mm: number): string {
  return mm < 1000 ? `${mm.toFixed(0)} mm` : `${(mm / 1000).toFixed(2)} m`;
}
