import { type Static, Type } from 'typebox';
import { routes } from './route-table.ts';
import { component, input, int, list, num, text } from './schema.ts';

const printerFields = {
  name: text({ minLength: 1, maxLength: 60, description: 'Unique among the printers' }),
  hotendLimitMm: num({ description: 'Largest diameter that passes through the hotend' }),
  smallestFeedableMm: num({ description: 'Smallest diameter that the drive gear feeds reliably' }),
  toleranceMm: num({ description: 'Largest accepted deviation from the nominal diameter, mm' }),
};

/** A stored printer. Id 0 = this line's own limits; they are changed in the settings of the line. */
export const PrinterProfile = component('PrinterProfile', {
  id: int({ minimum: 0 }),
  ...printerFields,
  note: text({ description: 'Free text, such as drive gear, tube or nozzle' }),
});
export type PrinterProfile = Static<typeof PrinterProfile>;

/** Required: smallest feedable < nominal − tolerance < nominal + tolerance < hotend limit. */
export const PrinterInput = input(
  { ...printerFields, note: Type.Optional(text({ maxLength: 500 })) },
  { $id: 'PrinterInput' },
);
export type PrinterInput = Static<typeof PrinterInput>;

const PrinterParam = input({ id: int({ minimum: 0 }) });

/** The printers that strand is judged for. */
export const printers = routes({
  'GET /api/printers': {
    operationId: 'listPrinters',
    tag: 'printers',
    right: 'watch',
    summary: 'List all printers',
    description: 'This line’s own limits (id 0) first, then by name.',
    answers: { 200: list(PrinterProfile) },
  },
  'POST /api/printers': {
    operationId: 'addPrinter',
    tag: 'printers',
    right: 'manage',
    summary: 'Add a printer',
    description: 'Its limits must be in order: smallest feedable diameter < tolerance band < hotend limit.',
    body: PrinterInput,
    answers: { 201: PrinterProfile },
  },
  'PUT /api/printers/:id': {
    operationId: 'changePrinter',
    tag: 'printers',
    right: 'manage',
    summary: 'Change a printer',
    description: 'Printer 0 is this line itself; it is changed in the settings.',
    params: PrinterParam,
    body: PrinterInput,
    answers: { 200: PrinterProfile },
  },
  'DELETE /api/printers/:id': {
    operationId: 'removePrinter',
    tag: 'printers',
    right: 'manage',
    summary: 'Remove a printer',
    description: 'Spools stay, but can no longer be judged for it.',
    params: PrinterParam,
    answers: { 204: null },
  },
});
