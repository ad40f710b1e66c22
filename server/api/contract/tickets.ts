import { Type } from 'typebox';
import { routes } from './route-table.ts';
import { input, int, text } from './schema.ts';

export const tickets = routes({
  'POST /api/tickets': {
    operationId: 'issueTicket',
    tag: 'access',
    summary: 'Get a ticket that opens one path once',
    description: 'For a download or the WebSocket, where no header can be sent. Add it to the address as ?ticket=….',
    body: input({
      path: text({ pattern: '^/[!-~]{1,200}$', description: 'The path without its query, such as /live' }),
    }),
    answers: {
      201: Type.Object({ ticket: text(), validMs: int({ description: 'How long the ticket is valid, ms' }) }),
    },
  },
});
