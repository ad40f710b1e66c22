import type { Doubt, SectionKind } from './section.ts';

export const KIND_TEXT: Readonly<Record<SectionKind, string>> = {
  blob: 'Blob',
  neck: 'Thin spot',
  offTolerance: 'Out of tolerance',
  outOfRound: 'Out of round',
  drift: 'Drift',
  surging: 'Surging',
  strandLost: 'Strand lost',
  unknown: 'Not measured',
  marked: 'Marked by hand',
  joint: 'Joint',
};

/** Why a section is in doubt, in a few words, for a cut list or a label. */
export const SHORT_DOUBT: Readonly<Record<Doubt, string>> = {
  nearLimit: 'near the limit',
  oneReading: 'one reading only',
  fewReadings: 'few readings only',
  gaugeShifted: 'the gauge had shifted',
  axesDisagree: 'the two axes disagree',
  gaugeBlind: 'beyond the range of the gauge',
  gaugeNoisy: 'the gauge was noisy',
};

/** "blob (one reading only)". */
export function doubtfulName({ kind, doubt }: { readonly kind: SectionKind; readonly doubt: Doubt | null }): string {
  const name = KIND_TEXT[kind].toLowerCase();
  return doubt === null ? name : `${name} (${SHORT_DOUBT[doubt]})`;
}
