import type { ComponentChildren } from 'preact';
import type { FieldProps } from './field-props.ts';

interface Props<Row> extends FieldProps {
  /** What a new row holds. */
  readonly fresh: Row;
  readonly add: string;
  /** What a row is called where it can be removed. */
  readonly called: (row: Row) => string;
  /** The fields of one row. */
  /** What belongs to a row and is too wide for it. */
  readonly below?: (row: Row, change: (part: Partial<Row>) => void) => ComponentChildren;
  readonly children: (row: Row, change: (part: Partial<Row>) => void) => ComponentChildren;
}

/** A setting that is a list of rows, each of a few small fields. */
export function RowsField<Row>({ name, schema, value, fault, set, fresh, add, called, below, children }: Props<Row>) {
  const rows = (value as Row[]) ?? [];
  const change = (i: number) => (part: Partial<Row>) =>
    set(rows.map((one, k) => (k === i ? { ...one, ...part } : one)));
  return (
    <fieldset class={`roles${fault ? ' wrong' : ''}`} data-setting={name}>
      <legend>{schema.title}</legend>
      {schema.description && <p class="hint">{schema.description}.</p>}
      {rows.map((row, i) => (
        <div class="row-block" key={i}>
          <div class="role-row">
            {children(row, change(i))}
            <button
              type="button"
              class="plain"
              aria-label={`Remove ${called(row)}`}
              onClick={() => set(rows.filter((_, k) => k !== i))}
            >
              Remove
            </button>
          </div>
          {below?.(row, change(i))}
        </div>
      ))}
      {fault && <span class="fault">{fault}</span>}
      <button type="button" id={`set-${name}`} onClick={() => set([...rows, fresh])}>
        {add}
      </button>
    </fieldset>
  );
}

/** A word or a number in a row. Numbers stay the text that was typed, so that half-typed ones stay. */
export function RowText({
  name,
  title,
  value,
  set,
}: {
  name?: string;
  title: string;
  value: string | number;
  set: (value: string) => void;
}) {
  return (
    <label class="field">
      <span>{title}</span>
      <input
        name={name}
        type="text"
        maxLength={40}
        value={String(value)}
        onInput={(event) => set(event.currentTarget.value)}
      />
    </label>
  );
}

export function RowNumber(props: {
  name?: string;
  title: string;
  value: string | number;
  set: (value: string) => void;
}) {
  return (
    <label class="field">
      <span>{props.title}</span>
      <input
        name={props.name}
        type="text"
        inputMode="decimal"
        class="number"
        value={String(props.value)}
        onInput={(event) => props.set(event.currentTarget.value)}
      />
    </label>
  );
}

/** One of several, in a row; by value and the words for it. */
export function RowChoice<Value extends string>(props: {
  readonly name?: string;
  readonly title: string;
  readonly value: Value;
  readonly choices: readonly (readonly [Value, string])[];
  readonly set: (value: Value) => void;
}) {
  return (
    <label class="field">
      <span>{props.title}</span>
      <select name={props.name} value={props.value} onChange={(event) => props.set(event.currentTarget.value as Value)}>
        {props.choices.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}
