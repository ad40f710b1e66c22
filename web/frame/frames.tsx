import { renderToStaticMarkup } from 'preact-render-to-string';
import { type Route, routeOf } from '../../server/entities/page-route.ts';
import { FIRST_ROWS } from '../list/in-slices.ts';
import { addressOf } from '../service/address.ts';
import { Masthead } from '../shell/masthead.tsx';
import { route } from '../shell/router.ts';

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

const firstRows = { query: { newest: FIRST_ROWS } };
const SPOOL = addressOf('GET /api/spools/:id', { params: { id: 0 } });
const PLAN = addressOf('GET /api/spools/:id/cut-plan', { params: { id: 0 } });
const RUN = addressOf('GET /api/runs/:id', { params: { id: 0 } });
const PEOPLE = addressOf('GET /api/people');

/** Addresses with a frame, and what each page shows first, which is then requested with its code. Numbers stand as 0. */
const FRAMED: Record<string, readonly string[]> = {
  '/': [],
  '/spool': [],
  '/spool/0': [SPOOL],
  '/spool/0/rewind': [PLAN],
  '/spool/0/cut-list': [PLAN, SPOOL],
  '/spool/0/label': [SPOOL],
  '/spools': [addressOf('GET /api/spools', firstRows)],
  '/runs': [addressOf('GET /api/runs', firstRows)],
  '/runs/0': [RUN],
  '/next': [],
  '/trends': [],
  '/stock': [addressOf('GET /api/stock', firstRows), addressOf('GET /api/printers')],
  '/preparation': [addressOf('GET /api/lots')],
  '/compare': [addressOf('GET /api/runs'), addressOf('GET /api/lines')],
  '/alarms': [addressOf('GET /api/alarm-types')],
  '/people': [PEOPLE],
  '/set-up': [addressOf('GET /api/settings'), addressOf('GET /api/incoming'), addressOf('GET /api/serial-ports')],
  '/printers': [addressOf('GET /api/printers')],
  // Not everyone may see them.
  '/devices': [],
  '/night': [PEOPLE, addressOf('GET /api/record')],
};

/** The frame of each page as HTML, for the first picture, which then needs no script, and the addresses of what it shows first. */
export function frames(): Record<
  string,
  { readonly page: Route['page']; readonly html: string; readonly asks: readonly string[] }
> {
  return Object.fromEntries(
    Object.entries(FRAMED).map(([path, asks]) => {
      route.value = routeOf(path);
      const html = renderToStaticMarkup(
        <>
          <Masthead />
          <main id="content" tabIndex={-1}>
            {path === '/' && HEADLINE}
          </main>
        </>,
      );
      return [path, { page: route.value.page, html, asks }];
    }),
  );
}
