/** First part of the path of every page. Any other path is answered with a problem, so that a program notices a wrong address. */
export const PAGE_PATHS = [
  '',
  'wall',
  'lines',
  'night',
  'first-evening',
  'runs',
  'spools',
  'next',
  'stock',
  'preparation',
  'trends',
  'alarms',
  'set-up',
  'printers',
  'people',
  'phone',
  'devices',
  'spool',
  'c',
  // As the codes on labels spell it: capital letters make them smaller.
  'C',
  'compare',
  'side-by-side',
  'answer',
  'pair',
  'certificate',
] as const;

export type PagePath = (typeof PAGE_PATHS)[number];

/** @param path without its query */
export function isPagePath(path: string): boolean {
  const [, first = '', ...more] = path.split('/');
  return PAGE_PATHS.some((one) => one === first) && (first !== '' || more.length === 0);
}
