import type { PrinterService } from '../../monitor/printer-service.ts';
import { type Api, serve } from '../serve.ts';

/** The printers that strand is judged for. */
export function printerRoutes(api: Api, printers: PrinterService): void {
  serve(api, 'GET /api/printers', () => printers.all());

  serve(api, 'POST /api/printers', ({ body, by }) => printers.add({ note: '', ...body }, by));

  serve(api, 'PUT /api/printers/:id', ({ params, body, by }) =>
    printers.change({ note: '', ...body, id: params.id }, by),
  );

  serve(api, 'DELETE /api/printers/:id', ({ params, by }) => printers.remove(params.id, by));
}
