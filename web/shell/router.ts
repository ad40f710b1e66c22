import { signal } from '@preact/signals';
import type { PagePath } from '../../server/api/contract/page-paths.ts';
import { RUN_REF } from '../../server/entities/run-ref.ts';
import { showPlace } from './place.ts';

export type Route =
  | {
      readonly page:
        | 'live'
        | 'wall'
        | 'lines'
        | 'lines-wall'
        | 'night'
        | 'first-evening'
        | 'runs'
        | 'spools'
        | 'next'
        | 'stock'
        | 'preparation'
        | 'trends'
        | 'alarms'
        | 'set-up'
        | 'printers'
        | 'people'
        | 'phone'
        | 'devices'
        | 'pair'
        | 'certificate'
        | 'unknown';
    }
  | { readonly page: 'spool'; readonly id: number | null }
  | { readonly page: 'compare'; readonly groups: readonly (readonly string[])[] }
  | { readonly page: 'answer'; readonly token: string }
  | { readonly page: 'labelled'; readonly code: string }
  | { readonly page: 'run' | 'rewinder' | 'cut-list' | 'label'; readonly id: number };

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
] as const satisfies readonly PagePath[];

/** The page at a path. */
export function routeOf(path: string): Route {
  const [head = '', second, ...more] = path.split('/').filter((part) => part !== '');
  // May be anything; but only addresses that the service serves compile below.
  const first = head as PagePath;
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
  // Codes spell it with a capital letter.
  if (first === 'lines' && second === 'wall') return { page: 'lines-wall' };
  if ((first === 'c' || first === 'C') && second !== undefined) return { page: 'labelled', code: second };
  if (first === 'answer' && second !== undefined) return { page: 'answer', token: second };
  if (second === undefined) {
    if (first === '') return { page: 'live' };
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

export const route = signal<Route>({ page: 'live' });

export function go(path: string): void {
  history.pushState(null, '', path);
  route.value = routeOf(location.pathname);
  window.scrollTo(0, 0);
  document.getElementById('content')?.focus({ preventScroll: true });
  showPlace();
}

/** Follows the address bar, and turns clicks on internal links into page changes without a reload. */
export function startRouter(): void {
  route.value = routeOf(location.pathname);
  showPlace();
  addEventListener('popstate', () => {
    route.value = routeOf(location.pathname);
  });
  document.addEventListener('click', (event) => {
    // This page is opened by HTTP, but the pages it links to must be loaded by HTTPS.
    if (route.peek().page === 'certificate') return;
    if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
    const link = (event.target as Element | null)?.closest('a');
    const href = link?.getAttribute('href');
    if (
      !link ||
      !href?.startsWith('/') ||
      href.startsWith('/api') ||
      link.target !== '' ||
      link.hasAttribute('download')
    )
      return;
    event.preventDefault();
    go(href);
  });
}
