import { lazyPart } from './shell/lazily.tsx';

/** Every page but the live one, which alone must be there at once. */
export const pages = {
  spool: lazyPart(() => import('./spool/spool-page.tsx')),
  rewinder: lazyPart(() => import('./rewinder/rewinder-page.tsx')),
  label: lazyPart(() => import('./label/label-page.tsx')),
  runs: lazyPart(() => import('./runs/runs-page.tsx')),
  compare: lazyPart(() => import('./compare/compare-page.tsx')),
  run: lazyPart(() => import('./runs/run-page.tsx')),
  alarms: lazyPart(() => import('./alarms/alarms-page.tsx')),
  people: lazyPart(() => import('./people/people-page.tsx')),
  answer: lazyPart(() => import('./answer/answer-page.tsx')),
  printers: lazyPart(() => import('./printers/printers-page.tsx')),
  'set-up': lazyPart(() => import('./set-up/set-up-page.tsx')),
};

/** The page that was asked for is on its way while the frame around it is drawn, not only afterwards. */
export function fetchPageOf(name: string): void {
  // One that cannot be had is asked for again, and its failure told, where it is shown.
  if (name in pages) pages[name as keyof typeof pages].fetch().catch(() => {});
}

/** Long enough for the first page to be drawn and its history to be asked for. */
const FETCH_AHEAD_MS = 3000;

/** Once the opened page has settled, the others come too: they then open at once, and open although the link is gone. */
export function fetchPagesAhead(): void {
  setTimeout(async () => {
    for (const page of Object.values(pages)) {
      // One that cannot be had now is asked for again, and its failure told, when it is opened.
      await page.fetch().catch(() => {});
    }
  }, FETCH_AHEAD_MS);
}
