import { useEffect, useState } from 'preact/hooks';
import { parseNumber } from '../words/numbers.ts';

interface Props {
  readonly id: string;
  readonly label: string;
  readonly value: number | null;
  readonly digits?: number;
  readonly unit?: string;
  readonly hint?: string;
  /** Told at every key that leaves a number; null while there is none. */
  readonly set: (value: number | null) => void;
}

/** A number typed with comma or point. */
export function NumberField({ id, label, value, digits = 2, unit, hint, set }: Props) {
  const [text, setText] = useState<string | null>(null);
  // A value from outside replaces what was typed, unless it is what was typed.
  useEffect(() => {
    if (text !== null && parseNumber(text) !== value) setText(null);
  }, [value]);
  const wrong = text !== null && parseNumber(text) === null;
  return (
    <div class="field number-field">
      <label for={id}>{label}</label>
      <span class="number-row">
        <input
          id={id}
          type="text"
          inputMode="decimal"
          autocomplete="off"
          aria-invalid={wrong}
          aria-describedby={hint ? `${id}-hint` : undefined}
          value={text ?? (value === null ? '' : value.toFixed(digits))}
          onInput={(event) => {
            setText(event.currentTarget.value);
            set(parseNumber(event.currentTarget.value));
          }}
        />
        {unit && <span>{unit}</span>}
      </span>
      {hint && (
        <span class="hint" id={`${id}-hint`}>
          {hint}
        </span>
      )}
    </div>
  );
}
