import { type Api, serve } from '../serve.ts';
import type { Tickets } from '../tickets.ts';

/** What an address carries in place of the access key. */
export function ticketRoutes(api: Api, tickets: Tickets): void {
  serve(api, 'POST /api/tickets', ({ body }) => tickets.issue(body.path));
}
