import type { Route } from '../server/entities/page-route.ts';
import { plotLibrary } from './chart/plot-library.ts';
import { lazyPart } from './shell/lazily.tsx';

/** The code of each page. */
export const pages = {
  live: lazyPart(() => import('./live/live-page.tsx')),
  lines: lazyPart(() => import('./lines/lines-page.tsx')),
  'lines-wall': lazyPart(() => import('./lines/lines-wall-page.tsx')),
  wall: lazyPart(() => import('./live/wall-page.tsx')),
  spool: lazyPart(() => import('./spool/spool-page.tsx')),
  spools: lazyPart(() => import('./spools/spools-page.tsx')),
  rewinder: lazyPart(() => import('./rewinder/rewinder-page.tsx')),
  'cut-list': lazyPart(() => import('./rewinder/cut-list-page.tsx')),
  labelled: lazyPart(() => import('./label/labelled-page.tsx')),
  label: lazyPart(() => import('./label/label-page.tsx')),
  runs: lazyPart(() => import('./runs/runs-page.tsx')),
  compare: lazyPart(() => import('./compare/compare-page.tsx')),
  preparation: lazyPart(() => import('./lot/preparation-page.tsx')),
  trends: lazyPart(() => import('./trends/trends-page.tsx')),
  next: lazyPart(() => import('./next/next-page.tsx')),
  stock: lazyPart(() => import('./stock/stock-page.tsx')),
  run: lazyPart(() => import('./runs/run-page.tsx')),
  alarms: lazyPart(() => import('./alarms/alarms-page.tsx')),
  night: lazyPart(() => import('./night/night-page.tsx')),
  'first-evening': lazyPart(() => import('./first-evening/first-evening-page.tsx')),
  people: lazyPart(() => import('./people/people-page.tsx')),
  phone: lazyPart(() => import('./people/phone-page.tsx')),
  certificate: lazyPart(() => import('./certificate/certificate-page.tsx')),
  devices: lazyPart(() => import('./devices/devices-page.tsx')),
  answer: lazyPart(() => import('./answer/answer-page.tsx')),
  printers: lazyPart(() => import('./printers/printers-page.tsx')),
  'set-up': lazyPart(() => import('./set-up/set-up-page.tsx')),
};

/** Starts fetching the requested page before the frame around it is drawn. */
export async function fetchPageOf(to: Route): Promise<void> {
  // A failed page is fetched again, and its failure shown, where it is opened.
  if (to.page in pages) await pages[to.page as keyof typeof pages].fetch().catch(() => {});
}

/** Long enough for the first page to be drawn and its history to be requested. */
const FETCH_AHEAD_MS = 8000;

/** Fetches the other pages once the opened one has settled, so that they open at once, even without a connection. */
export function fetchPagesAhead(): void {
  setTimeout(async () => {
    for (const page of Object.values(pages)) {
      // A failed page is fetched again, and its failure shown, when it is opened.
      await page.fetch().catch(() => {});
    }
    void plotLibrary();
  }, FETCH_AHEAD_MS);
}
