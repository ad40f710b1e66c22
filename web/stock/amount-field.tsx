import { NumberField } from '../form/number-field.tsx';

export const ABOVE_ZERO = { exclusiveMinimum: 0 };

const UNIT_TEXT = { metres: 'metres', grams: 'grams', percent: '%' } as const;
export type Unit = keyof typeof UNIT_TEXT;

interface Props<U extends Unit> {
  readonly id: string;
  readonly label: string;
  readonly amount: number | null;
  readonly unit: U;
  readonly units: readonly U[];
  readonly fault?: string | null | undefined;
  readonly set: (amount: number | null, unit: U) => void;
}

/** A number and its unit. */
export function AmountField<U extends Unit>({ id, label, amount, unit, units, fault, set }: Props<U>) {
  return (
    <>
      <NumberField
        id={id}
        label={label}
        value={amount}
        bounds={ABOVE_ZERO}
        fault={fault}
        set={(value) => set(value, unit)}
      />
      <fieldset class="switch">
        <legend class="visually-hidden">Unit of “{label}”</legend>
        {units.map((one) => (
          <label key={one}>
            <input type="radio" name={`${id}-unit`} checked={unit === one} onChange={() => set(amount, one)} />
            <span>{UNIT_TEXT[one]}</span>
          </label>
        ))}
      </fieldset>
    </>
  );
}
