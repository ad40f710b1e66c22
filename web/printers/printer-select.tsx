import { useEffect } from 'preact/hooks';
import { isAbort } from '../service/request.ts';
import { choosePrinter, chosenPrinter, loadPrinters, printers } from './printer-list.ts';

/** Which printer spools are judged for. */
export function PrinterSelect({ label = 'For' }: { label?: string }) {
  useEffect(() => {
    loadPrinters().catch((thrown) => {
      // What depends on the printer tells its own problem; here the list only stays short.
      if (!isAbort(thrown)) console.error(thrown);
    });
  }, []);
  const list = printers.value;
  return (
    <label class="printer-select no-print">
      <span>{label}</span>{' '}
      <select
        value={String(chosenPrinter.value)}
        data-testid="printer-select"
        onChange={(event) => choosePrinter(Number(event.currentTarget.value))}
      >
        {list?.map((printer) => (
          <option key={printer.id} value={String(printer.id)}>
            {printer.name}
          </option>
        )) ?? <option value="0">This line’s limits</option>}
      </select>
    </label>
  );
}
