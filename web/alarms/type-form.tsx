import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { checkTypeDraft, draftOf, type TypeDraft, type TypeFaults } from './type-draft.ts';

interface Props {
  readonly type: AlarmTypeView;
  /** The type as it is set now; null = nothing was changed. */
  readonly close: (saved: AlarmTypeView | null) => void;
}

const NUMBERS = [
  { name: 'onDelayS', label: 'Raised after, s', hint: 'So long must its cause hold.' },
  {
    name: 'offDelayS',
    label: 'Returns after, s',
    hint: 'So long must its cause be gone. With 30 s or more it cannot chatter.',
  },
] as const;

/** Sets an alarm type: what it asks of a person, and how soon. */
export function TypeForm({ type, close }: Props) {
  const [draft, setDraft] = useState(() => draftOf(type));
  const [faults, setFaults] = useState<TypeFaults>({});
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const id = (name: keyof TypeDraft) => `${type.type}-${name}`;
  const set = (part: Partial<TypeDraft>) => {
    setDraft({ ...draft, ...part });
    setFaults((old) => ({ ...old, ...Object.fromEntries(Object.keys(part).map((name) => [name, undefined])) }));
  };
  const save = async () => {
    const checked = checkTypeDraft(type, draft, live.value?.limits.absoluteLimitC ?? 300);
    if ('faults' in checked) {
      setFaults(checked.faults);
      document.getElementById(id(Object.keys(checked.faults)[0] as keyof TypeDraft))?.focus();
      return;
    }
    try {
      const saved = await call('PUT /api/alarm-types/:type', { params: { type: type.type }, body: checked.given });
      say({ text: `“${type.title}” is set.` });
      close(saved);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const text = (
    name: 'onDelayS' | 'offDelayS' | 'deadband' | 'consequence' | 'firstCheck',
    label: string,
    hint = '',
  ) => {
    const number = name !== 'consequence' && name !== 'firstCheck';
    return (
      <div class={`field${number ? '' : ' wide'}`}>
        <label for={id(name)}>{label}</label>
        <input
          id={id(name)}
          type="text"
          inputMode={number ? 'decimal' : 'text'}
          class={number ? 'number' : ''}
          maxLength={300}
          value={draft[name]}
          aria-invalid={faults[name] !== undefined}
          aria-describedby={`${id(name)}-hint`}
          onInput={(event) => set({ [name]: event.currentTarget.value })}
        />
        <span id={`${id(name)}-hint`}>
          {hint && <span class="hint">{hint} </span>}
          {faults[name] && <span class="fault">{faults[name]}</span>}
        </span>
      </div>
    );
  };
  return (
    <form
      class="type-form"
      aria-label={`Set “${type.title}”`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <div class="field">
        <label for={id('priority')}>Priority</label>
        <select
          id={id('priority')}
          value={draft.priority}
          aria-invalid={faults.priority !== undefined}
          onChange={(event) => set({ priority: event.currentTarget.value as TypeDraft['priority'] })}
        >
          <option value="high">High</option>
          <option value="medium">Medium</option>
          <option value="low">Low</option>
        </select>
        {faults.priority && <span class="fault">{faults.priority}</span>}
      </div>
      {NUMBERS.map(({ name, label, hint }) => text(name, label, hint))}
      {type.deadbandUnit !== null &&
        text(
          'deadband',
          `Deadband, ${type.deadbandUnit}`,
          type.limit === null
            ? 'It returns only so far on the good side of its limit.'
            : `Raised above ${type.limit.value} ${type.limit.unit}, it returns only so far below.`,
        )}
      <label class="check wide">
        <input
          id={id('latching')}
          type="checkbox"
          checked={draft.latching}
          onChange={(event) => set({ latching: event.currentTarget.checked })}
        />
        <span>Latching: it stays after its cause is gone, until somebody has acknowledged and reset it.</span>
      </label>
      {text('consequence', 'What happens if nobody does anything')}
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
