import { Type } from 'typebox';
import { ProblemView } from '../contract.ts';
import { PrinterInput, PrinterProfile } from '../spool-contract.ts';
import { printerView } from '../spool-numbers.ts';
import { type Api, DEFAULT_WHO, type RouteContext } from './context.ts';

/** The printers that strand is judged for. */
export function printerRoutes(api: Api, context: RouteContext): void {
  const { printers } = context;

  api.get(
    '/api/printers',
    {
      schema: {
        tags: ['printers'],
        summary: 'All printers: this line’s own limits (id 0) first, then by name',
        response: { 200: Type.Array(PrinterProfile), default: ProblemView },
      },
    },
    () => printers.all().map(printerView),
  );

  api.post(
    '/api/printers',
    {
      schema: {
        tags: ['printers'],
        summary: 'Add a printer',
        body: PrinterInput,
        response: { 201: PrinterProfile, default: ProblemView },
      },
    },
    (request, reply) => {
      const added = printers.add({ note: '', ...request.body }, DEFAULT_WHO);
      reply.code(201);
      return printerView(added);
    },
  );

  api.put(
    '/api/printers/:id',
    {
      schema: {
        tags: ['printers'],
        summary: 'Change a printer',
        params: Type.Object({ id: Type.Integer({ minimum: 0 }) }),
        body: PrinterInput,
        response: { 200: PrinterProfile, default: ProblemView },
      },
    },
    (request) => printerView(printers.change({ note: '', ...request.body, id: request.params.id }, DEFAULT_WHO)),
  );

  api.delete(
    '/api/printers/:id',
    {
      schema: {
        tags: ['printers'],
        summary: 'Take a printer off the list',
        params: Type.Object({ id: Type.Integer({ minimum: 0 }) }),
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    (request, reply) => {
      printers.remove(request.params.id, DEFAULT_WHO);
      reply.code(204);
      return null;
    },
  );
}
