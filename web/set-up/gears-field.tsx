import type { LineSettings } from '../../server/settings/line-settings.ts';
import type { FieldProps } from './field-props.ts';

type Gear = Omit<LineSettings['gears'][number], 'cyclesPerTurn'> & { readonly cyclesPerTurn: number | string };

/** Gears and motors that may show in the diameter, each on the shaft that it turns with. */
export function GearsField({ name, schema, value, fault, set }: FieldProps) {
  const rows = (value as Gear[]) ?? [];
  const change = (at: number, part: Partial<Gear>) => set(rows.map((row, i) => (i === at ? { ...row, ...part } : row)));
  return (
    <fieldset class={`roles${fault ? ' wrong' : ''}`} data-setting={name}>
      <legend>{schema.title}</legend>
      <p class="hint">{schema.description}.</p>
      {rows.map((row, i) => (
        <div class="role-row gear-row" key={i}>
          <label class="field">
            <span>Name</span>
            <input
              type="text"
              maxLength={40}
              value={row.name}
              onInput={(event) => change(i, { name: event.currentTarget.value })}
            />
          </label>
          <label class="field">
            <span>On the shaft of</span>
            <select
              value={row.shaft}
              onChange={(event) => change(i, { shaft: event.currentTarget.value as Gear['shaft'] })}
            >
              <option value="screw">the screw</option>
              <option value="roller">the puller roller</option>
            </select>
          </label>
          <label class="field">
            <span>Cycles a turn</span>
            <input
              type="text"
              inputMode="decimal"
              class="number"
              value={String(row.cyclesPerTurn)}
              onInput={(event) => change(i, { cyclesPerTurn: event.currentTarget.value })}
            />
          </label>
          <button
            type="button"
            class="plain"
            aria-label={`Remove ${row.name || 'this gear'}`}
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
        onClick={() => set([...rows, { name: '', shaft: 'screw', cyclesPerTurn: '' }])}
      >
        Add a gear or motor …
      </button>
    </fieldset>
  );
}
