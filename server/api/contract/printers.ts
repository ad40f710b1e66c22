import { PrinterInput, PrinterProfile } from '../spool-contract.ts';
import { routes } from './route-table.ts';
import { given, int, list } from './schema.ts';

const PrinterParam = given({ id: int({ minimum: 0 }) });

/** The printers that strand is judged for. */
export const printers = routes({
  'GET /api/printers': {
    operationId: 'listPrinters',
    tag: 'printers',
    summary: 'All printers',
    description: 'This line’s own limits (id 0) first, then by name.',
    answers: { 200: list(PrinterProfile) },
  },
  'POST /api/printers': {
    operationId: 'addPrinter',
    tag: 'printers',
    summary: 'Add a printer',
    description: 'Its limits must be in order: smallest feedable diameter < tolerance band < hotend limit.',
    body: PrinterInput,
    answers: { 201: PrinterProfile },
  },
  'PUT /api/printers/:id': {
    operationId: 'changePrinter',
    tag: 'printers',
    summary: 'Change a printer',
    description: 'Printer 0 is this line itself; change it in the settings.',
    params: PrinterParam,
    body: PrinterInput,
    answers: { 200: PrinterProfile },
  },
  'DELETE /api/printers/:id': {
    operationId: 'removePrinter',
    tag: 'printers',
    summary: 'Remove a printer',
    description: 'Spools stay; they can no longer be judged for it.',
    params: PrinterParam,
    answers: { 204: null },
  },
});
