import { type Api, serve } from '../serve.ts';
import type { Tickets } from '../tickets.ts';

/** Tickets that replace the access key in an address. */
export function ticketRoutes(api: Api, tickets: Tickets): void {
  serve(api, 'POST /api/tickets', ({ body }) => tickets.issue(body.path));
}
