import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { PRIORITY_TEXT } from '../format/names.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { PRIORITY_SHAPE, Shape } from '../shell/shape.tsx';
import { delayText } from './alarm-text.ts';
import { OutOfServiceForm } from './out-of-service-form.tsx';
import { TypeForm } from './type-form.tsx';

const GROUPS: readonly (readonly [group: AlarmTypeView['group'], text: string])[] = [
  ['strand', 'The strand'],
  ['gauge', 'The gauge'],
  ['heat', 'The heat'],
  ['link', 'The line’s readings'],
  ['record', 'The record'],
];

interface Props {
  readonly types: readonly AlarmTypeView[];
  readonly changed: (type: AlarmTypeView) => void;
}

/** All alarm types, grouped by subject. */
export function TypeList({ types, changed }: Props) {
  return (
    <>
      {GROUPS.map(([group, text]) => (
        <section key={group} class="type-group" aria-label={text}>
          <h3>{text}</h3>
          <ul>
            {types
              .filter((type) => type.group === group)
              .map((type) => (
                <TypeItem key={type.type} type={type} changed={changed} />
              ))}
          </ul>
        </section>
      ))}
    </>
  );
}

function TypeItem({ type, changed }: { type: AlarmTypeView; changed: Props['changed'] }) {
  const [open, setOpen] = useState<'set' | 'out' | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const title = type.perZone ? `Zone: ${type.title}` : type.title;
  const setBack = async () => {
    try {
      changed(await call('DELETE /api/alarm-types/:type', { params: { type: type.type } }));
      setProblem(null);
      showNotice({ text: `“${type.title}” is as it was before anybody changed it.` });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <li class="type" data-testid="alarm-type" data-type={type.type}>
      <Shape of={PRIORITY_SHAPE[type.priority]} size={20} />
      <div class="type-body">
        <p class="type-title">
          <strong>{title}</strong> <span class="quiet">{PRIORITY_TEXT[type.priority]}</span>
          {type.changed && <span class="type-changed"> changed</span>}
        </p>
        <p>{type.consequence}</p>
        <p class="fine">{settingsText(type)}</p>
        {problem && <ProblemNote problem={problem} />}
        {open === null && (
          <p class="type-actions">
            <button type="button" class="plain" aria-label={`Change ${title}`} onClick={() => setOpen('set')}>
              Change
            </button>
            <button
              type="button"
              class="plain"
              aria-label={`Take ${title} out of service`}
              onClick={() => setOpen('out')}
            >
              Take out of service
            </button>
            {type.changed && (
              <button type="button" class="plain" aria-label={`Set ${title} back`} onClick={setBack}>
                Set back
              </button>
            )}
          </p>
        )}
      </div>
      {open === 'set' && (
        <TypeForm
          type={type}
          close={(saved) => {
            setOpen(null);
            if (saved) changed(saved);
          }}
        />
      )}
      {open === 'out' && <OutOfServiceForm type={type} close={() => setOpen(null)} />}
    </li>
  );
}

function settingsText(type: AlarmTypeView): string {
  const raised = type.onDelayS === 0 ? 'Raised at once' : `Raised after ${delayText(type.onDelayS)}`;
  const band = type.deadband === null ? '' : `, ${type.deadband} ${type.deadbandUnit} on the good side of its limit`;
  const returns = `returns after ${delayText(type.offDelayS)}${band}`;
  const latching = type.latching ? '; stays until someone has acknowledged and reset it' : '';
  return `${raised}; ${returns}${latching}. Check first: ${type.firstCheck}`;
}
