import type { Section } from '../../server/strand/section.ts';

/** A section of 10 mm that is surely to be discarded. */
export const sectionOf = (kind: Section['kind'], more: Partial<Section> = {}): Section => ({
  id: 'm1',
  kind,
  fromMm: 1000,
  toMm: 1010,
  fromTimeMs: 0,
  toTimeMs: 0,
  peakMm: null,
  peakAtMm: null,
  volumeBeyondMm3: null,
  certainty: 'sure',
  verdict: 'discard',
  note: '',
  origin: 'measured',
  open: false,
  ...more,
});
