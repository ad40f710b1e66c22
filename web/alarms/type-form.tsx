import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { ChoiceField } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { checkTypeDraft, draftOf, type TypeDraft } from './type-draft.ts';

interface Props {
  readonly type: AlarmTypeView;
  /** Called with the saved type; null = nothing was changed. */
  readonly close: (saved: AlarmTypeView | null) => void;
}

const PRIORITIES = [
  ['high', 'High'],
  ['medium', 'Medium'],
  ['low', 'Low'],
] as const;

const NUMBERS = [
  { name: 'onDelayS', label: 'Raised after (s)', hint: 'How long its cause must last.' },
  {
    name: 'offDelayS',
    label: 'Clears after (s)',
    hint: 'How long its cause must be gone. With 30 s or more it cannot come and go all the time.',
  },
] as const;

const TERMS = { onDelayS: 'alarmDelay', deadband: 'deadband' } as const;

/** Edits the settings of an alarm type. */
export function TypeForm({ type, close }: Props) {
  const [draft, setDraft] = useState(() => draftOf(type));
  const id = (name: keyof TypeDraft) => `${type.type}-${name}`;
  const names = Object.keys(draft) as (keyof TypeDraft)[];
  const { faults, problem, show, showThrown, clear } = useFaults(names, id);
  const set = (part: Partial<TypeDraft>) => {
    setDraft({ ...draft, ...part });
    clear(...names.filter((name) => name in part));
  };
  const save = async () => {
    const checked = checkTypeDraft(type, draft, live.value?.limits.absoluteLimitC ?? 300);
    if ('faults' in checked) {
      show(checked.faults);
      return;
    }
    try {
      const saved = await call('PUT /api/alarm-types/:type', { params: { type: type.type }, body: checked.input });
      showNotice({ text: `“${type.title}” is set.` });
      close(saved);
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  const number = (name: 'onDelayS' | 'offDelayS' | 'deadband', label: string, hint: string) => (
    <NumberField
      key={name}
      id={id(name)}
      label={label}
      term={name === 'offDelayS' ? undefined : TERMS[name]}
      hint={hint}
      fault={faults[name]}
      value={draft[name]}
      set={(value) => set({ [name]: value })}
    />
  );
  const text = (name: 'consequence' | 'firstCheck', label: string) => (
    <TextField
      id={id(name)}
      label={label}
      fault={faults[name]}
      wide
      maxLength={300}
      value={draft[name]}
      set={(value) => set({ [name]: value })}
    />
  );
  return (
    <form
      class="form type-form"
      aria-label={`Set “${type.title}”`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <ChoiceField
        id={id('priority')}
        label="Priority"
        term="priority"
        fault={faults.priority}
        value={draft.priority}
        choices={PRIORITIES}
        set={(priority) => set({ priority })}
      />
      {NUMBERS.map(({ name, label, hint }) => number(name, label, hint))}
      {type.deadbandUnit !== null &&
        number(
          'deadband',
          `Deadband, ${type.deadbandUnit}`,
          type.limit === null
            ? 'It clears only when the value is this far inside its limit.'
            : `Raised above ${type.limit.value} ${type.limit.unit}, it clears only that far below.`,
        )}
      <label class="check wide">
        <input
          id={id('latching')}
          type="checkbox"
          checked={draft.latching}
          onChange={(event) => set({ latching: event.currentTarget.checked })}
        />
        <span>Latching: it stays after its cause is gone, until someone has acknowledged and reset it.</span>
      </label>
      {text('consequence', 'What happens if it is ignored')}
      {text('firstCheck', 'What to check first')}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions wide">
        <button type="submit" class="main">
          Save
        </button>
        <button type="button" onClick={() => close(null)}>
          Cancel
        </button>
      </p>
    </form>
  );
}
