export type SpanChoice = 'path' | '10 m' | '50 m' | 'spool';

export const SPANS: readonly { readonly value: SpanChoice; readonly text: string }[] = [
  { value: 'path', text: 'Gauge to winder' },
  { value: '10 m', text: '10 m' },
  { value: '50 m', text: '50 m' },
  { value: 'spool', text: 'Whole spool' },
];

/** Length of strand shown, mm, from the gauge towards the winder. */
export function spanMm(choice: SpanChoice, pathMm: number, woundMm: number): number {
  const path = Math.max(pathMm, 100);
  if (choice === 'path') return path * 1.03;
  if (choice === '10 m') return Math.max(10_000, path * 1.03);
  if (choice === '50 m') return Math.max(50_000, path * 1.03);
  // Round up to a quarter of a power of ten, so that a growing spool does not need a new window for every metre.
  const all = Math.max(woundMm + path, 2000);
  const step = 10 ** Math.floor(Math.log10(all)) / 4;
  return Math.ceil((all * 1.02) / step) * step;
}
