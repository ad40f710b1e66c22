import { signal } from '@preact/signals';
import type { PrinterInput, PrinterProfile } from '../../server/api/contract/printers.ts';
import { call } from '../service/call.ts';

const KEY = 'strandward.printer';

/** The printers of the service. The first, with id 0, stands for the line's own limits. null = not fetched yet. */
export const printers = signal<readonly PrinterProfile[] | null>(null);

/** The printer that runs are compared for; stored by the browser. A spool's printer is stored with the spool. */
export const chosenPrinter = signal(Number(localStorage.getItem(KEY) ?? 0) || 0);

export function choosePrinter(id: number): void {
  chosenPrinter.value = id;
  localStorage.setItem(KEY, String(id));
}

/** @throws ServiceProblem */
export async function loadPrinters(): Promise<void> {
  const list = await call('GET /api/printers');
  printers.value = list;
  // The chosen printer may have been removed.
  if (!list.some((one) => one.id === chosenPrinter.peek())) choosePrinter(0);
}

/** Adds a printer, or changes the one with this id. @throws ServiceProblem */
export async function savePrinter(id: number | null, body: PrinterInput): Promise<PrinterProfile> {
  const saved = await (id === null
    ? call('POST /api/printers', { body })
    : call('PUT /api/printers/:id', { params: { id }, body }));
  await loadPrinters();
  return saved;
}

/** @throws ServiceProblem */
export async function removePrinter(id: number): Promise<void> {
  await call('DELETE /api/printers/:id', { params: { id } });
  await loadPrinters();
}
