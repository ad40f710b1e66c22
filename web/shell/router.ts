import { signal } from '@preact/signals';
import { type Route, routeOf } from '../../server/entities/page-route.ts';
import { showPlace } from './place.ts';

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
      link.hasAttribute('download') ||
      routeOf(new URL(link.href).pathname).page === 'unknown'
    )
      return;
    event.preventDefault();
    go(href);
  });
}
