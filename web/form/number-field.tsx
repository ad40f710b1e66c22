import { useEffect, useState } from 'preact/hooks';
import { parseNumber } from '../format/numbers.ts';
import { Field, type FieldProps } from './field.tsx';
import { type NumberBounds, numberFault } from './typed-number.ts';

interface Props extends FieldProps {
  readonly value: number | null;
  /** So many decimals of `value` are shown; without it, as many as it has. */
  readonly digits?: number;
  readonly unit?: string;
  /** What is outside is told beside the field once it is left, and handed on all the same: the form decides. */
  readonly bounds?: NumberBounds;
  /** Told the number at every key; null while there is none. */
  readonly set: (value: number | null) => void;
  /**
   * Tell a number only when the field is left or Enter is pressed, and go back to the value after what is none:
   * for numbers that move something as soon as they are told.
   */
  readonly whenLeft?: boolean;
}

/** A number typed with comma or point. Half-typed text stays here; the form holds numbers only. */
export function NumberField(props: Props) {
  const { value, digits, unit, bounds, set, whenLeft = false, fault: given, ...field } = props;
  const [text, setText] = useState<string | null>(null);
  const [left, setLeft] = useState(false);
  // A value from outside replaces what was typed, unless it is what was typed.
  useEffect(() => {
    if (text !== null && parseNumber(text) !== value) setText(null);
  }, [value]);
  const typed = text === null ? null : parseNumber(text);
  const fault = given ?? (left && text !== null ? numberFault(typed, bounds) : null);
  return (
    <Field {...field} fault={fault} class="number-field">
      {(ties) => {
        const input = (
          <input
            {...ties}
            type="text"
            inputMode="decimal"
            autocomplete="off"
            class={unit ? undefined : 'number'}
            aria-invalid={fault !== null || (text !== null && typed === null)}
            value={text ?? (value === null ? '' : digits === undefined ? String(value) : value.toFixed(digits))}
            onInput={(event) => {
              setText(event.currentTarget.value);
              if (!whenLeft) set(parseNumber(event.currentTarget.value));
            }}
            onBlur={() => {
              setLeft(true);
              if (!whenLeft || text === null) return;
              if (typed !== null) set(typed);
              setText(null);
            }}
            onKeyDown={(event) => {
              if (whenLeft && event.key === 'Enter') event.currentTarget.blur();
            }}
          />
        );
        return unit ? (
          <span class="number-row">
            {input}
            <span>{unit}</span>
          </span>
        ) : (
          input
        );
      }}
    </Field>
  );
}
