import { useEffect, useState } from 'preact/hooks';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import { diameter } from '../format/numbers.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { settings } from '../service/settings.ts';
import { Needs } from '../shell/needs.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { PrinterForm } from './printer-form.tsx';
import { loadPrinters, printers, removePrinter, savePrinter } from './printer-list.ts';

/** The printers that spools can be judged for. */
export default function PrintersPage() {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [open, setOpen] = useState<number | 'new' | null>(null);
  const version = refetchVersion.value;
  const load = () =>
    loadPrinters()
      .then(() => setProblem(null))
      .catch((thrown) => setProblem(asProblem(thrown)));
  useEffect(() => {
    void load();
  }, [version]);
  const list = printers.value;
  const nominalMm = settings.value?.nominalMm ?? 1.75;
  const remove = async (printer: PrinterProfile) => {
    try {
      await removePrinter(printer.id);
      const { id: _, ...input } = printer;
      showNotice({
        text: `${printer.name} removed.`,
        undo: () => savePrinter(null, input).catch((thrown) => setProblem(asProblem(thrown))),
      });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <section class="set-up">
      <header class="page-head">
        <h1>Printers</h1>
        <p>
          One spool may jam in one printer and print well on another. Choose a spool’s printer on the page of the spool;
          until you do, it is judged by this line’s limits.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} again={load} />}
      <Needs right="manage">
        {list && (
          <ul class="printer-list">
            {list.map((printer) => (
              <li key={printer.id} class="printer" data-testid="printer" data-printer={printer.id}>
                <h2>{printer.name}</h2>
                {open === printer.id ? (
                  <PrinterForm
                    printer={printer}
                    nominalMm={nominalMm}
                    otherNames={list.filter((one) => one.id !== printer.id).map((one) => one.name)}
                    close={() => setOpen(null)}
                  />
                ) : (
                  <>
                    <dl class="facts-small">
                      <div>
                        <dt>Hotend limit</dt>
                        <dd>{diameter(printer.hotendLimitMm)} mm</dd>
                      </div>
                      <div>
                        <dt>Smallest feedable diameter</dt>
                        <dd>{diameter(printer.smallestFeedableMm)} mm</dd>
                      </div>
                      <div>
                        <dt>Tolerance</dt>
                        <dd>± {diameter(printer.toleranceMm)} mm</dd>
                      </div>
                    </dl>
                    <p class="printer-more">
                      {printer.note && <span>{printer.note}</span>}
                      {printer.id === 0 ? (
                        <span>
                          From the settings of the line: change it in <a href="/set-up">Set-up</a>.
                        </span>
                      ) : (
                        <span class="printer-actions">
                          <button
                            type="button"
                            class="plain"
                            aria-label={`Change ${printer.name}`}
                            onClick={() => setOpen(printer.id)}
                          >
                            Change
                          </button>
                          <button
                            type="button"
                            class="plain"
                            aria-label={`Remove ${printer.name}`}
                            onClick={() => remove(printer)}
                          >
                            Remove
                          </button>
                        </span>
                      )}
                    </p>
                  </>
                )}
              </li>
            ))}
          </ul>
        )}
        {open === 'new' ? (
          <PrinterForm
            printer={null}
            nominalMm={nominalMm}
            otherNames={list?.map((one) => one.name) ?? []}
            close={() => setOpen(null)}
          />
        ) : (
          list && (
            <p class="actions">
              <button type="button" onClick={() => setOpen('new')}>
                Add a printer
              </button>
            </p>
          )
        )}
      </Needs>
    </section>
  );
}
