import { useState } from 'preact/hooks';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { checkDraft, draftOf, type Faults, NUMBER_FIELDS } from './printer-draft.ts';
import { savePrinter } from './printer-list.ts';

interface Props {
  /** null = a new one. */
  readonly printer: PrinterProfile | null;
  readonly nominalMm: number;
  readonly otherNames: readonly string[];
  readonly close: () => void;
}

/** Adds a printer, or changes one. */
export function PrinterForm({ printer, nominalMm, otherNames, close }: Props) {
  const [draft, setDraft] = useState(() => draftOf(printer));
  const [faults, setFaults] = useState<Faults>({});
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const set = (name: keyof typeof draft, value: string) => {
    setDraft({ ...draft, [name]: value });
    setFaults(({ [name]: _, ...rest }) => rest);
  };
  const save = async () => {
    const checked = checkDraft(draft, nominalMm, otherNames);
    if ('faults' in checked) {
      setFaults(checked.faults);
      document.getElementById(`printer-${Object.keys(checked.faults)[0]}`)?.focus();
      return;
    }
    try {
      const saved = await savePrinter(printer?.id ?? null, checked.input);
      say({ text: printer ? `${saved.name} changed.` : `${saved.name} added.` });
      close();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const field = (name: keyof typeof draft, label: string, hint: string, number: boolean) => (
    <div class="field">
      <label for={`printer-${name}`}>{label}</label>
      <input
        id={`printer-${name}`}
        type="text"
        inputMode={number ? 'decimal' : 'text'}
        class={number ? 'number' : ''}
        maxLength={name === 'note' ? 500 : 60}
        value={draft[name]}
        aria-describedby={`printer-${name}-hint`}
        aria-invalid={faults[name] !== undefined}
        onInput={(event) => set(name, event.currentTarget.value)}
      />
      <span id={`printer-${name}-hint`}>
        <span class="hint">{hint}</span>
        {faults[name] && <span class="fault printer-fault">{faults[name]}</span>}
      </span>
    </div>
  );
  return (
    <form
      class="printer-form"
      aria-label={printer ? `Change ${printer.name}` : 'Add a printer'}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {field('name', 'Name', 'As you call it in the workshop.', false)}
      {NUMBER_FIELDS.map((one) => field(one.name, one.label, one.hint, true))}
      {field('note', 'Note', 'Drive gear, tube, nozzle: what you want to remember.', false)}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {printer ? 'Save' : 'Add the printer'}
        </button>
        <button type="button" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
