import { ROLES } from '../../server/reading/names.ts';
import type { FieldProps } from './field-props.ts';

interface Mapping {
  readonly name: string;
  readonly role: string;
  readonly factor: number | string;
  readonly offset: number | string;
}

/** Names that the sketch prints, and what each stands for: value = raw × factor + offset. */
export function RolesField({ name, schema, value, fault, set }: FieldProps) {
  const rows = (value as Mapping[]) ?? [];
  const change = (at: number, part: Partial<Mapping>) =>
    set(rows.map((row, i) => (i === at ? { ...row, ...part } : row)));
  return (
    <fieldset class={`roles${fault ? ' wrong' : ''}`} data-setting={name}>
      <legend>{schema.title}</legend>
      {rows.map((row, i) => (
        <div class="role-row" key={i}>
          <label class="field">
            <span>Name on the cable</span>
            <input type="text" value={row.name} onInput={(event) => change(i, { name: event.currentTarget.value })} />
          </label>
          <label class="field">
            <span>Role</span>
            <select value={row.role} onChange={(event) => change(i, { role: event.currentTarget.value })}>
              {ROLES.map((role) => (
                <option key={role} value={role}>
                  {role}
                </option>
              ))}
            </select>
          </label>
          <label class="field">
            <span>Factor</span>
            <input
              type="text"
              inputMode="decimal"
              class="number"
              value={String(row.factor)}
              onInput={(event) => change(i, { factor: event.currentTarget.value })}
            />
          </label>
          <label class="field">
            <span>Offset</span>
            <input
              type="text"
              inputMode="decimal"
              class="number"
              value={String(row.offset)}
              onInput={(event) => change(i, { offset: event.currentTarget.value })}
            />
          </label>
          <button
            type="button"
            class="plain"
            aria-label={`Remove the mapping of ${row.name || 'this name'}`}
            onClick={() => set(rows.filter((_, k) => k !== i))}
          >
            Remove
          </button>
        </div>
      ))}
      {fault && <span class="fault">{fault}</span>}
      <button
        type="button"
        id={`set-${name}`}
        onClick={() => set([...rows, { name: '', role: 'd', factor: 1, offset: 0 }])}
      >
        Map a name …
      </button>
    </fieldset>
  );
}
