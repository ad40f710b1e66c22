import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';
import type { TermName } from '../terms/glossary.ts';
import { TermMark } from '../terms/term.tsx';

/** What every field has besides its input. */
export interface FieldProps {
  /** Needed only where something else refers to the field: a focus after a fault, or a test. */
  readonly id?: string | undefined;
  /** The name of the input, for finding it within part of a form. */
  readonly name?: string | undefined;
  readonly label: string;
  /** What explains the label. */
  readonly term?: TermName | undefined;
  readonly hint?: ComponentChildren;
  readonly fault?: string | null | undefined;
  /** Takes up a whole row of its form. */
  readonly wide?: boolean | undefined;
}

/** The attributes that link an input to its label, hint and fault. */
interface InputTies {
  readonly id: string;
  readonly name: string | undefined;
  readonly 'aria-describedby': string | undefined;
  readonly 'aria-invalid': boolean;
}

interface Props extends FieldProps {
  readonly class?: string;
  readonly children: (ties: InputTies) => ComponentChildren;
}

/** A label, an input, and below it a hint and the fault. */
export function Field({ id: ownId, name, label, term, hint, fault, wide, class: more, children }: Props) {
  const made = useId();
  const id = ownId ?? made;
  const hinted = hint !== undefined && hint !== '';
  const described = [hinted && `${id}-hint`, fault && `${id}-fault`].filter(Boolean).join(' ');
  return (
    <div class={['field', more, wide && 'wide'].filter(Boolean).join(' ')}>
      {term ? (
        <span>
          <label for={id}>{label}</label>
          {'\u00a0'}
          <TermMark of={term} name={label} />
        </span>
      ) : (
        <label for={id}>{label}</label>
      )}
      {children({ id, name, 'aria-describedby': described || undefined, 'aria-invalid': Boolean(fault) })}
      {described && (
        <span class="below">
          {hinted && (
            <span class="hint" id={`${id}-hint`}>
              {hint}
            </span>
          )}
          {fault && (
            <span class="fault" id={`${id}-fault`}>
              {fault}
            </span>
          )}
        </span>
      )}
    </div>
  );
}

interface ChoiceProps<Value extends string> extends FieldProps {
  readonly value: Value;
  /** Values with their labels. */
  readonly choices: readonly (readonly [Value, string])[];
  readonly set: (value: Value) => void;
  readonly disabled?: boolean;
}

/** A choice of one among several. */
export function ChoiceField<Value extends string>({ value, choices, set, disabled, ...field }: ChoiceProps<Value>) {
  return (
    <Field {...field}>
      {(ties) => (
        <select
          {...ties}
          value={value}
          disabled={disabled}
          onChange={(event) => set(event.currentTarget.value as Value)}
        >
          {choices.map(([one, text]) => (
            <option key={one} value={one}>
              {text}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}
