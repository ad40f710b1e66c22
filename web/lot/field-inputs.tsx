import { useState } from 'preact/hooks';
import { fieldOf, keysInOrder, PREPARATION_FIELDS, type Values } from '../../server/preparation/fields.ts';
import { ChoiceField } from '../form/field.tsx';
import { TextField } from '../form/text-field.tsx';

/** What is typed into the fields of a preparation, by key; '' = not known. */
export type Draft = Readonly<Record<string, string>>;

export function draftOf(values: Values): Draft {
  return Object.fromEntries(
    Object.entries(values).map(([key, value]) => [
      key,
      value === true ? 'yes' : value === false ? 'no' : String(value),
    ]),
  );
}

/** Numbers go as text, so that the service can read their unit. */
export function valuesOf(draft: Draft): Values {
  const filled = Object.entries(draft).filter(([, text]) => text.trim() !== '');
  return Object.fromEntries(
    filled.map(([key, text]) => [key, fieldOf(key).kind === 'yesNo' ? text === 'yes' : text.trim()]),
  );
}

const PLACEHOLDER: Readonly<Record<string, string>> = { dryingH: '8, or “not dried”', sieveMm: '4, or “not sieved”' };

/** One field of a preparation. */
export function FieldInput({ of: key, text, set }: { of: string; text: string; set: (text: string) => void }) {
  const { title, unit, kind } = fieldOf(key);
  const label = unit === '' ? title : `${title}, ${unit}`;
  if (kind !== 'yesNo')
    return <TextField label={label} maxLength={60} placeholder={PLACEHOLDER[key]} value={text} set={set} />;
  return (
    <ChoiceField
      label={label}
      value={text}
      choices={[
        ['', 'Not known'],
        ['yes', 'Yes'],
        ['no', 'No'],
      ]}
      set={set}
    />
  );
}

const OFTEN_SENT = /^(die|zone\d)C$|^speedMmPerS$/;

/** All fields of a preparation. Those that most lines send are folded. */
export function FieldInputs({ draft, set }: { draft: Draft; set: (draft: Draft) => void }) {
  const known = PREPARATION_FIELDS.map(({ key }) => key);
  const own = keysInOrder(draft).filter((key) => !known.includes(key));
  const shown = [...known.filter((key) => !OFTEN_SENT.test(key) || (draft[key] ?? '') !== ''), ...own];
  const input = (key: string) => (
    <FieldInput key={key} of={key} text={draft[key] ?? ''} set={(text) => set({ ...draft, [key]: text })} />
  );
  return (
    <>
      <div class="preparation-fields">{shown.map(input)}</div>
      <details>
        <summary>Set-points and speed, if the line does not send them</summary>
        <div class="preparation-fields">{known.filter((key) => !shown.includes(key)).map(input)}</div>
      </details>
      <OwnField add={(key) => set({ ...draft, [key]: draft[key] ?? '' })} />
    </>
  );
}

/** Adds a field of the user's own. */
export function OwnField({ add }: { add: (key: string) => void }) {
  const [title, setTitle] = useState('');
  const [unit, setUnit] = useState('');
  return (
    <details>
      <summary>Add a field of your own</summary>
      <div class="preparation-fields">
        <TextField label="Name" maxLength={40} placeholder="Shredder screen" value={title} set={setTitle} />
        <TextField label="Unit, if any" maxLength={12} placeholder="mm" value={unit} set={setUnit} />
        <p class="actions">
          <button
            type="button"
            disabled={title.trim() === ''}
            onClick={() => {
              add(unit.trim() === '' ? title.trim() : `${title.trim()} [${unit.trim()}]`);
              setTitle('');
              setUnit('');
            }}
          >
            Add field
          </button>
        </p>
      </div>
    </details>
  );
}
