import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { PRIORITY_TEXT } from '../format/names.ts';
import { live, staleForMs } from '../service/live-store.ts';
import { PRIORITY_SHAPE, Shape } from '../shell/shape.tsx';
import type { TermName } from '../terms/glossary.ts';
import { Term } from '../terms/term.tsx';
import { delayText, silencedUntilText, typeStateText } from './alarm-text.ts';
import { TypeDetails } from './type-details.tsx';

const GROUPS: readonly (readonly [group: AlarmTypeView['group'], text: string])[] = [
  ['strand', 'The strand'],
  ['gauge', 'The gauge'],
  ['heat', 'The heat'],
  ['link', 'The line’s readings'],
  ['record', 'The record and access'],
];

const COLUMNS: readonly (readonly [text: string, term?: TermName])[] = [
  ['Alarm'],
  ['Priority', 'priority'],
  ['Delay', 'alarmDelay'],
  ['State'],
  ['Silenced until', 'silenced'],
];

interface Props {
  readonly types: readonly AlarmTypeView[];
  readonly changed: (type: AlarmTypeView) => void;
}

/** All alarm types, grouped by subject. A row opens to show what the alarm means and to change it. */
export function TypeTable({ types, changed }: Props) {
  return (
    <table class={`type-table${staleForMs.value === null ? '' : ' stale'}`}>
      <thead>
        <tr>
          {COLUMNS.map(([text, term]) => (
            <th key={text} scope="col">
              {term === undefined ? text : <Term of={term}>{text}</Term>}
            </th>
          ))}
        </tr>
      </thead>
      {GROUPS.map(([group, text]) => [
        <tbody key={group}>
          <tr>
            <th scope="rowgroup" colSpan={COLUMNS.length} class="type-group">
              {text}
            </th>
          </tr>
        </tbody>,
        ...types
          .filter((type) => type.group === group)
          .map((type) => <TypeRow key={type.type} type={type} changed={changed} />),
      ])}
    </table>
  );
}

function TypeRow({ type, changed }: { type: AlarmTypeView; changed: Props['changed'] }) {
  const [open, setOpen] = useState(false);
  const details = `type-${type.type}`;
  return (
    <tbody class={`type ${type.priority}`} data-testid="alarm-type" data-type={type.type}>
      <tr class="type-row">
        <th scope="row">
          <div class="type-name">
            <Shape of={PRIORITY_SHAPE[type.priority]} size={18} />
            <button
              type="button"
              class="plain"
              aria-expanded={open}
              aria-controls={open ? details : undefined}
              onClick={() => setOpen(!open)}
            >
              {type.perZone ? `Zone: ${type.title}` : type.title}
            </button>
            {type.changed && <span class="type-changed">changed</span>}
          </div>
        </th>
        <td class="type-priority">{PRIORITY_TEXT[type.priority].replace(' priority', '')}</td>
        <td class="type-delay">{type.onDelayS === 0 ? 'none' : delayText(type.onDelayS)}</td>
        <StateCells type={type.type} />
      </tr>
      {open && (
        <tr id={details}>
          <td colSpan={COLUMNS.length}>
            <TypeDetails type={type} changed={changed} />
          </td>
        </tr>
      )}
    </tbody>
  );
}

/** Separate from the row, because they change with every state of the line. */
function StateCells({ type }: { type: AlarmTypeView['type'] }) {
  const state = live.value;
  const alarms = [...(state?.alarms ?? []), ...(state?.suppressed ?? [])].filter((alarm) => alarm.type === type);
  return (
    <>
      <td class={alarms.length === 0 ? 'type-state none' : 'type-state'}>{typeStateText(alarms)}</td>
      <td class="type-until">{silencedUntilText(alarms)}</td>
    </>
  );
}
