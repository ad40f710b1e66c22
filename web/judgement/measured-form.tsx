import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin, type NumberBounds } from '../form/typed-number.ts';
import { useFaults } from '../form/use-faults.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

interface MeasuredField<Name extends string> {
  readonly name: Name;
  readonly label: string;
  readonly bounds: NumberBounds;
  /** What it starts with, in the unit of the value. */
  readonly initially?: number;
}

interface Props<Name extends string> {
  /** Prefix of the fields' ids. */
  readonly id: string;
  readonly fields: readonly MeasuredField<Name>[];
  /** As typed, and how much of the value one of it is. */
  readonly unit: string;
  readonly perUnit: number;
  readonly digits: number;
  readonly button: string;
  /** Told once the values are saved. */
  readonly saved: string;
  /** Told once they are removed; null = there is nothing to remove. */
  readonly undone: string | null;
  /** null removes them. @throws ServiceProblem */
  readonly save: (values: Readonly<Record<Name, number>> | null) => Promise<void>;
  readonly changed: () => void;
  /** What is known now, in a sentence or two. */
  readonly children: ComponentChildren;
}

/** Numbers that a user measured, saved and removed together. */
export function MeasuredForm<Name extends string>(props: Props<Name>) {
  const { id, fields, unit, perUnit, digits, button, saved, undone, save, changed, children } = props;
  type Entered = Readonly<Record<Name, number | null>>;
  const [entered, setEntered] = useState(
    () => Object.fromEntries(fields.map(({ name, initially = null }) => [name, initially])) as Entered,
  );
  const { faults, problem, showThrown, clear, clearAll } = useFaults(
    fields.map(({ name }) => name),
    (name) => `${id}-${name}`,
  );
  const act = async (values: Parameters<typeof save>[0], text: string) => {
    try {
      await save(values);
      clearAll();
      showNotice({ text });
      changed();
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <>
      <p>
        {children}{' '}
        {undone !== null && (
          <button type="button" class="plain no-print" onClick={() => void act(null, undone)}>
            Undo
          </button>
        )}
      </p>
      <InlineForm
        button={button}
        ready={fields.every(({ name, bounds }) => isWithin(entered[name], bounds))}
        submit={() => void act(entered as Record<Name, number>, saved)}
      >
        {fields.map(({ name, label, bounds }) => (
          <NumberField
            key={name}
            id={`${id}-${name}`}
            label={label}
            value={entered[name] === null ? null : entered[name] / perUnit}
            digits={digits}
            unit={unit}
            bounds={bounds}
            fault={faults[name]}
            set={(typed) => {
              clear(name);
              setEntered({ ...entered, [name]: typed === null ? null : typed * perUnit });
            }}
          />
        ))}
      </InlineForm>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
