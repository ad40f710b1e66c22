import { Type } from 'typebox';
import { ProblemView } from '../contract.ts';
import type { Tickets } from '../tickets.ts';
import type { Api } from './context.ts';

/** What stands in an address in place of the access key. */
export function ticketRoutes(api: Api, tickets: Tickets): void {
  api.post(
    '/api/tickets',
    {
      schema: {
        tags: ['access'],
        summary:
          'A ticket that opens one path once, as ?ticket=…, where no header can be sent: a download, the WebSocket',
        body: Type.Object(
          { path: Type.String({ pattern: '^/[!-~]{1,200}$', description: 'Without its query, such as /live' }) },
          { additionalProperties: false },
        ),
        response: {
          201: Type.Object({ ticket: Type.String(), validMs: Type.Integer({ description: 'From now on, ms' }) }),
          default: ProblemView,
        },
      },
    },
    (request, reply) => {
      reply.code(201);
      return tickets.issue(request.body.path);
    },
  );
}
