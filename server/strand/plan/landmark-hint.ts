import type { SectionKind } from '../section.ts';
import type { Landmark } from './spool-map.ts';

export interface LandmarkHint {
  readonly kind: SectionKind | null;
  readonly peakMm: number | null;
  readonly lengthMm: number;
  /** From the outer end of the full spool. */
  readonly peakAtOuterMm: number;
  /** Distance from the cut before it. */
  readonly afterCutMm: number;
  readonly sentence: string;
}

const NAMES: Record<SectionKind, string> = {
  blob: 'a blob',
  neck: 'a thin place',
  offTolerance: 'a stretch off tolerance',
  outOfRound: 'an out-of-round stretch',
  drift: 'a stretch that has drifted',
  surging: 'a stretch that surges',
  strandLost: 'the place where the strand was lost',
  unknown: 'a stretch that was not measured',
  marked: 'a stretch that was marked by hand',
};

/** What the user at the rewinder should see next, as a check of the count. */
export function landmarkHint(landmark: Landmark, cutMm: number): LandmarkHint {
  const { stretch } = landmark;
  const kind = stretch.kind ?? null;
  const peakMm = stretch.peakMm ?? null;
  const lengthMm = landmark.toMm - landmark.fromMm;
  const afterCutMm = landmark.peakAtOuterMm - cutMm;
  const name = kind === null ? 'a bad stretch' : NAMES[kind];
  const peak = peakMm === null ? '' : ` of ${peakMm.toFixed(2)} mm`;
  const when = afterCutMm > 0 ? `When about ${lengthText(afterCutMm)} are off` : 'At the very beginning';
  return {
    kind,
    peakMm,
    lengthMm,
    peakAtOuterMm: landmark.peakAtOuterMm,
    afterCutMm,
    sentence: `${when}, you should see ${name}${peak}, ${lengthText(lengthMm)} long.`,
  };
}

/** In mm below a metre, else in m with two decimals. */
export function lengthText(mm: number): string {
  return mm < 1000 ? `${mm.toFixed(0)} mm` : `${(mm / 1000).toFixed(2)} m`;
}
