import { RUN_REF } from './run-ref.ts';

/** Pages whose path is the same as their name. */
const PLAIN = [
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
  'pair',
  'certificate',
] as const;

export type Route =
  | { readonly page: 'live' | (typeof PLAIN)[number] | 'lines-wall' | 'unknown' }
  | { readonly page: 'spool'; readonly id: number | null }
  | { readonly page: 'compare'; readonly groups: readonly (readonly string[])[] }
  | { readonly page: 'answer'; readonly token: string }
  | { readonly page: 'labelled'; readonly code: string }
  | { readonly page: 'run' | 'rewinder' | 'cut-list' | 'label'; readonly id: number };

/**
 * The page at a path.
 * @param path without its query; a slash at its end does not count
 * @returns `unknown` = none: the service answers with a problem, so that a program notices a wrong address
 */
export function routeOf(path: string): Route {
  if (path === '/') return { page: 'live' };
  const [first = '', second, ...more] = path.replace(/\/$/, '').split('/').slice(1);
  if (first === 'compare' || first === 'side-by-side')
    return comparisonOf(second === undefined ? [] : [second, ...more]);
  const id = second !== undefined && /^\d{1,15}$/.test(second) ? Number(second) : undefined;
  if (more.length > 0) {
    if (first === 'spool' && id !== undefined && more.length === 1) {
      if (more[0] === 'rewind') return { page: 'rewinder', id };
      if (more[0] === 'cut-list') return { page: 'cut-list', id };
      if (more[0] === 'label') return { page: 'label', id };
    }
    return { page: 'unknown' };
  }
  if (first === 'lines' && second === 'wall') return { page: 'lines-wall' };
  // The codes on labels spell it with a capital letter, which makes them smaller.
  if ((first === 'c' || first === 'C') && second !== undefined) return { page: 'labelled', code: second };
  if (first === 'answer' && second !== undefined) return { page: 'answer', token: second };
  if (second === undefined) {
    if (first === 'spool') return { page: 'spool', id: null };
    const page = PLAIN.find((one) => one === first);
    if (page !== undefined) return { page };
  } else if (id !== undefined) {
    if (first === 'spool') return { page: 'spool', id };
    if (first === 'runs') return { page: 'run', id };
  }
  return { page: 'unknown' };
}

/** "3,5" and "4,2:6": groups of runs. */
function comparisonOf(parts: readonly string[]): Route {
  if (parts.some((refs) => !RUN_REFS.test(refs))) return { page: 'unknown' };
  return { page: 'compare', groups: parts.map((refs) => refs.split(',')) };
}
const RUN_REFS = new RegExp(`^${RUN_REF}(,${RUN_REF})*$`);
