import type { ComponentChildren } from 'preact';
import type { SettingProps } from './settings-store.ts';

interface Props<Row> extends SettingProps {
  /** The values of a new row. */
  readonly fresh: Row;
  readonly add: string;
  /** The name of a row for the button that removes it. */
  readonly called: (row: Row) => string;
  /** The fields of one row. */
  readonly children: (row: Row, change: (part: Partial<Row>) => void) => ComponentChildren;
}

/** A setting that is a list of rows of a few small fields. */
export function RowsField<Row>({ name, schema, value, fault, set, fresh, add, called, children }: Props<Row>) {
  const rows = (value as Row[]) ?? [];
  const change = (i: number) => (part: Partial<Row>) =>
    set(rows.map((one, k) => (k === i ? { ...one, ...part } : one)));
  return (
    <fieldset class="roles" data-setting={name}>
      <legend>{schema.title}</legend>
      {rows.length > 0 && schema.description && <p class="hint">{schema.description}.</p>}
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
        </div>
      ))}
      {fault && <span class="fault">{fault}</span>}
      <button type="button" id={`set-${name}`} onClick={() => set([...rows, fresh])}>
        {add}
      </button>
    </fieldset>
  );
}
