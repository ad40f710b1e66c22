import { useState } from 'preact/hooks';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { checkDraft, DRAFT_FIELDS, draftOf, NUMBER_FIELDS, type PrinterDraft } from './printer-draft.ts';
import { savePrinter } from './printer-list.ts';

interface Props {
  /** null = a new one. */
  readonly printer: PrinterProfile | null;
  readonly nominalMm: number;
  readonly otherNames: readonly string[];
  readonly close: () => void;
}

/** Adds or changes a printer. */
export function PrinterForm({ printer, nominalMm, otherNames, close }: Props) {
  const [draft, setDraft] = useState(() => draftOf(printer));
  const { faults, problem, show, showThrown, clear } = useFaults(DRAFT_FIELDS, (name) => `printer-${name}`);
  const set = <Name extends keyof PrinterDraft>(name: Name, value: PrinterDraft[Name]) => {
    setDraft({ ...draft, [name]: value });
    clear(name);
  };
  const save = async () => {
    try {
      const checked = checkDraft(draft, nominalMm, otherNames);
      if ('faults' in checked) {
        show(checked.faults);
        return;
      }
      const saved = await savePrinter(printer?.id ?? null, checked.input);
      showNotice({ text: printer ? `${saved.name} changed.` : `${saved.name} added.` });
      close();
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  const text = (name: 'name' | 'note', label: string, hint: string, maxLength: number) => (
    <TextField
      id={`printer-${name}`}
      label={label}
      hint={hint}
      fault={faults[name]}
      maxLength={maxLength}
      value={draft[name]}
      set={(value) => set(name, value)}
    />
  );
  return (
    <form
      class="form printer-form"
      aria-label={printer ? `Change ${printer.name}` : 'Add a printer'}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {text('name', 'Name', 'What you call it in the workshop.', 60)}
      {NUMBER_FIELDS.map(({ name, label, term, hint }) => (
        <NumberField
          key={name}
          id={`printer-${name}`}
          label={label}
          term={term}
          hint={hint}
          fault={faults[name]}
          value={draft[name]}
          set={(value) => set(name, value)}
        />
      ))}
      {text('note', 'Note', 'Drive gear, tube, nozzle: what you want to remember.', 500)}
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
