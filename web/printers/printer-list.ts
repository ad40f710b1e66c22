import { signal } from '@preact/signals';
import type { PrinterInput, PrinterProfile } from '../../server/api/spool-contract.ts';
import { request } from '../service/request.ts';

const KEY = 'strandward.printer';

/** The printers that the service knows; the first, with id 0, is this line's own. null = not fetched yet. */
export const printers = signal<readonly PrinterProfile[] | null>(null);

/** The printer that runs are compared for; kept by the browser. What a spool is judged for is kept with the spool. */
export const chosenPrinter = signal(Number(localStorage.getItem(KEY) ?? 0) || 0);

export function choosePrinter(id: number): void {
  chosenPrinter.value = id;
  localStorage.setItem(KEY, String(id));
}

/** @throws ServiceProblem */
export async function loadPrinters(): Promise<void> {
  const list = await request<readonly PrinterProfile[]>('GET', '/api/printers');
  printers.value = list;
  // A printer that is gone judges nothing any more.
  if (!list.some((one) => one.id === chosenPrinter.peek())) choosePrinter(0);
}

/** Adds a printer, or changes the one with this id. @throws ServiceProblem */
export async function savePrinter(id: number | null, input: PrinterInput): Promise<PrinterProfile> {
  const saved = await request<PrinterProfile>(
    id === null ? 'POST' : 'PUT',
    id === null ? '/api/printers' : `/api/printers/${id}`,
    input,
  );
  await loadPrinters();
  return saved;
}

/** @throws ServiceProblem */
export async function removePrinter(id: number): Promise<void> {
  await request('DELETE', `/api/printers/${id}`);
  await loadPrinters();
}
