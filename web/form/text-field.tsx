import type { Ref } from 'preact';
import { Field, type FieldProps } from './field.tsx';

interface Props extends FieldProps {
  readonly value: string;
  readonly set: (value: string) => void;
  readonly type?: 'text' | 'password';
  readonly autocomplete?: 'name' | 'current-password';
  /** Number of lines; without it, one. */
  readonly lines?: number;
  /** Code or a key rather than prose. */
  readonly raw?: boolean;
  /** Earlier entries to choose from. */
  readonly suggested?: readonly string[];
  readonly maxLength?: number | undefined;
  readonly placeholder?: string | undefined;
  readonly disabled?: boolean;
  readonly inputRef?: Ref<HTMLInputElement>;
}

/** A text of one or several lines. */
export function TextField(props: Props) {
  const { value, set, type, autocomplete, lines, raw, suggested, ...others } = props;
  const { maxLength, placeholder, disabled, inputRef = null, ...field } = others;
  const onInput = (event: { readonly currentTarget: { readonly value: string } }) => set(event.currentTarget.value);
  return (
    <Field {...field}>
      {(ties) => {
        const common = { ...ties, value, maxLength, placeholder, disabled, onInput };
        if (lines !== undefined) {
          return (
            <textarea {...common} rows={lines} class={raw ? 'raw' : undefined} spellcheck={raw ? false : undefined} />
          );
        }
        if (type === 'password') {
          return <input {...common} ref={inputRef} type="password" autocomplete={autocomplete ?? 'new-password'} />;
        }
        if (!suggested) return <input {...common} ref={inputRef} type="text" autocomplete={autocomplete ?? 'off'} />;
        const list = `${ties.id}-list`;
        return (
          <>
            <input {...common} ref={inputRef} type="text" autocomplete="off" list={list} />
            <datalist id={list}>
              {suggested.map((one) => (
                <option key={one} value={one} />
              ))}
            </datalist>
          </>
        );
      }}
    </Field>
  );
}
