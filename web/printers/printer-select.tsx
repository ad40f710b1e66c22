import { useEffect } from 'preact/hooks';
import { logFailure } from '../service/request.ts';
import { loadPrinters, printers } from './printer-list.ts';

/** Selects the printer that something is judged for. */
export function PrinterSelect(props: { label?: string; value: number; choose: (id: number) => void }) {
  const { label = 'For', value, choose } = props;
  useEffect(() => {
    loadPrinters().catch((thrown) => {
      // The part that depends on the printer shows its own problem. Here only the list stays short.
      logFailure(thrown);
    });
  }, []);
  const list = printers.value;
  return (
    <label class="printer-select no-print">
      <span>{label}</span>{' '}
      <select
        value={String(value)}
        data-testid="printer-select"
        onChange={(event) => choose(Number(event.currentTarget.value))}
      >
        {list?.map((printer) => (
          <option key={printer.id} value={String(printer.id)}>
            {printer.name}
          </option>
        )) ?? <option value="0">This line’s limits</option>}
      </select>{' '}
      <a href="/printers">Printers</a>
    </label>
  );
}
