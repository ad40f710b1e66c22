import { renderToStaticMarkup } from 'preact-render-to-string';
import { Masthead } from '../shell/masthead.tsx';
import { type Route, route, routeOf } from '../shell/router.ts';

/** What the service writes into the frame of the live page: see server/api/page.ts. */
const HEADLINE = (
  <div>
    <div class="live-top">
      <div class="headline {{severity}}">
        <div class="sentence {{length}}">
          <svg class="shape" width={40} height={40} aria-hidden="true" />
          <h1 data-testid="sentence">{'{{sentence}}'}</h1>
        </div>
      </div>
    </div>
  </div>
);

/** Addresses with a frame; numbers in them stand as 0. */
const FRAMED = [
  '/',
  '/spool',
  '/spool/0',
  '/spool/0/rewind',
  '/spool/0/cut-list',
  '/spool/0/label',
  '/spools',
  '/runs',
  '/runs/0',
  '/next',
  '/trends',
  '/stock',
  '/preparation',
  '/compare',
  '/alarms',
  '/people',
  '/set-up',
  '/printers',
  '/devices',
  '/night',
];

/** The frame of each page as HTML, for the first picture, which then needs no script. */
export function frames(): Record<string, { readonly page: Route['page']; readonly html: string }> {
  return Object.fromEntries(
    FRAMED.map((path) => {
      route.value = routeOf(path);
      const html = renderToStaticMarkup(
        <>
          <Masthead />
          <main id="content" tabIndex={-1}>
            {path === '/' && HEADLINE}
          </main>
        </>,
      );
      return [path, { page: route.value.page, html }];
    }),
  );
}
