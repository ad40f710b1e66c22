import type { ComponentChildren } from 'preact';

interface FieldProps {
  readonly id: string;
  readonly label: string;
  readonly hint?: ComponentChildren;
  readonly children: ComponentChildren;
}

/** A label, what is entered, and a hint. */
function Field({ id, label, hint, children }: FieldProps) {
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {children}
      {hint && (
        <span class="hint" id={`${id}-hint`}>
          {hint}
        </span>
      )}
    </div>
  );
}

interface TextProps extends Omit<FieldProps, 'children'> {
  readonly value: string;
  readonly set: (value: string) => void;
  readonly type?: 'text' | 'password';
  readonly number?: boolean;
  readonly lines?: number;
  readonly placeholder?: string;
}

export function TextField({ value, set, type = 'text', number = false, lines, placeholder, ...field }: TextProps) {
  const common = {
    id: field.id,
    placeholder,
    'aria-describedby': field.hint === undefined ? undefined : `${field.id}-hint`,
    value,
    onInput: (event: { currentTarget: { value: string } }) => set(event.currentTarget.value),
  };
  return (
    <Field {...field}>
      {lines !== undefined ? (
        <textarea {...common} rows={lines} spellcheck={false} class="raw" />
      ) : type === 'password' ? (
        <input {...common} type="password" autocomplete="new-password" />
      ) : (
        <input
          {...common}
          type="text"
          class={number ? 'number' : undefined}
          inputMode={number ? 'decimal' : undefined}
          autocomplete="off"
        />
      )}
    </Field>
  );
}

interface ChoiceProps<T extends string> extends Omit<FieldProps, 'children'> {
  readonly value: T;
  readonly choices: readonly (readonly [T, string])[];
  readonly set: (value: T) => void;
}

export function ChoiceField<T extends string>({ value, choices, set, ...field }: ChoiceProps<T>) {
  return (
    <Field {...field}>
      <select id={field.id} value={value} onChange={(event) => set(event.currentTarget.value as T)}>
        {choices.map(([one, words]) => (
          <option key={one} value={one}>
            {words}
          </option>
        ))}
      </select>
    </Field>
  );
}
