import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

/** What every field has around what is entered. */
export interface FieldProps {
  /** Needed only where something else speaks of the field: a focus after a fault, a test. */
  readonly id?: string | undefined;
  /** Of the input, for whoever looks for one within a part of a form. */
  readonly name?: string | undefined;
  readonly label: string;
  readonly hint?: ComponentChildren;
  readonly fault?: string | null | undefined;
  /** Takes a whole row of its form. */
  readonly wide?: boolean | undefined;
}

/** What ties an input to its label, its hint and its fault, for eyes and ears alike. */
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

/** A label, what is entered, and below it a hint and what is wrong. */
export function Field({ id: given, name, label, hint, fault, wide, class: more, children }: Props) {
  const made = useId();
  const id = given ?? made;
  const hinted = hint !== undefined && hint !== '';
  const described = [hinted && `${id}-hint`, fault && `${id}-fault`].filter(Boolean).join(' ');
  return (
    <div class={['field', more, wide && 'wide'].filter(Boolean).join(' ')}>
      <label for={id}>{label}</label>
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
  /** Each with its words. */
  readonly choices: readonly (readonly [Value, string])[];
  readonly set: (value: Value) => void;
  readonly disabled?: boolean;
}

/** One of several. */
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
