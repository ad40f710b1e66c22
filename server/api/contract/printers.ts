import { type Static, Type } from 'typebox';
import { routes } from './route-table.ts';
import { given, int, list, named, num, text } from './schema.ts';

const printerFields = {
  name: text({ minLength: 1, maxLength: 60, description: 'Unique among the printers' }),
  hotendLimitMm: num({ description: 'The largest diameter that passes its filament path' }),
  leastFeedableMm: num({ description: 'The smallest diameter that its drive gear feeds surely' }),
  toleranceMm: num({ description: 'Wanted: nominal diameter ± this' }),
};

/** A printer as it is kept. Id 0 = this line's own limits, from the settings of the line; it is changed there. */
export const PrinterProfile = named('PrinterProfile', {
  id: int({ minimum: 0 }),
  ...printerFields,
  note: text({ description: 'Drive gear, tube, nozzle: what a person wants to remember' }),
});
export type PrinterProfile = Static<typeof PrinterProfile>;

/** Needed: least feedable < nominal − tolerance < nominal + tolerance < hotend limit. */
export const PrinterInput = given(
  { ...printerFields, note: Type.Optional(text({ maxLength: 500 })) },
  { $id: 'PrinterInput' },
);
export type PrinterInput = Static<typeof PrinterInput>;

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
