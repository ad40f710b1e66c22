import { useEffect, useState } from 'preact/hooks';
import { parseNumber } from '../format/numbers.ts';
import { Field, type FieldProps } from './field.tsx';
import { type NumberBounds, numberFault } from './typed-number.ts';

interface Props extends FieldProps {
  readonly value: number | null;
  /** Decimals to show; without it, as many as `value` has. */
  readonly digits?: number;
  readonly unit?: string;
  /** A value outside is reported below the field once it is left. It is still passed on: the form decides. */
  readonly bounds?: NumberBounds;
  /** Called with the number at every key press; null while the text is not a number. */
  readonly set: (value: number | null) => void;
  /**
   * Call `set` only when the field is left or Enter is pressed, and only with a number; other text is discarded. For numbers
   * that move something at once.
   */
  readonly whenLeft?: boolean;
}

/** A number typed with comma or point. Half-typed text stays in the field; the form holds numbers only. */
export function NumberField(props: Props) {
  const { value, digits, unit, bounds, set, whenLeft = false, fault: formFault, ...field } = props;
  const [text, setText] = useState<string | null>(null);
  const [left, setLeft] = useState(false);
  // A new value from outside replaces the typed text, unless the text stands for that value.
  useEffect(() => {
    if (text !== null && parseNumber(text) !== value) setText(null);
  }, [value]);
  const typed = text === null ? null : parseNumber(text);
  const fault = formFault ?? (left && text !== null ? numberFault(typed, bounds) : null);
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
