import { serve } from '../serve.ts';
import type { Tickets } from '../tickets.ts';
import type { Api } from './context.ts';

/** What an address carries in place of the access key. */
export function ticketRoutes(api: Api, tickets: Tickets): void {
  serve(api, 'POST /api/tickets', ({ body }) => tickets.issue(body.path));
}
