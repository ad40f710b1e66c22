import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { PRIORITY_TEXT } from '../format/names.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { Needs } from '../shell/needs.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { answerFailed } from './alarm-actions.ts';
import { delayText } from './alarm-text.ts';
import { OutOfServiceForm } from './out-of-service-form.tsx';
import { SuppressedList } from './suppressed-list.tsx';
import { TypeForm } from './type-form.tsx';

interface Props {
  readonly type: AlarmTypeView;
  readonly changed: (type: AlarmTypeView) => void;
}

/** What an alarm type means, how it is set, and what can be done about it. */
export function TypeDetails({ type, changed }: Props) {
  const [open, setOpen] = useState<'set' | 'out' | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  // The buttons give way to a form, and the form to the buttons. Keyboard users go on in what has come.
  const actions = useRef<HTMLDivElement>(null);
  const shown = useRef(open);
  useLayoutEffect(() => {
    if (shown.current !== open) actions.current?.querySelector<HTMLElement>('button, input, select')?.focus();
    shown.current = open;
  }, [open]);
  const suppressed = (live.value?.suppressed ?? []).filter((alarm) => alarm.type === type.type);
  const restore = async () => {
    try {
      changed(await call('DELETE /api/alarm-types/:type', { params: { type: type.type } }));
      setProblem(null);
      showNotice({ text: `“${type.title}” is back to its defaults.` });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <div class="type-body">
      <dl>
        <dt>If ignored</dt>
        <dd>{type.consequence}</dd>
        <dt>Check first</dt>
        <dd>{type.firstCheck}</dd>
        {type.caution !== '' && (
          <>
            <dt>Caution</dt>
            <dd>{type.caution}</dd>
          </>
        )}
        <dt>Settings</dt>
        <dd>{settingsText(type)}</dd>
      </dl>
      {suppressed.length > 0 && <SuppressedList alarms={suppressed} />}
      {answerFailed.value && <ProblemNote problem={answerFailed.value} />}
      {problem && <ProblemNote problem={problem} />}
      <Needs right="manage">
        <div ref={actions}>
          {open === null && (
            <p class="type-actions">
              <button type="button" aria-label={`Change ${type.title}`} onClick={() => setOpen('set')}>
                Change
              </button>
              <button type="button" aria-label={`Take ${type.title} out of service`} onClick={() => setOpen('out')}>
                Take out of service
              </button>
              {type.changed && (
                <button type="button" aria-label={`Restore the defaults of ${type.title}`} onClick={restore}>
                  Restore defaults
                </button>
              )}
            </p>
          )}
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
        </div>
      </Needs>
    </div>
  );
}

function settingsText(type: AlarmTypeView): string {
  const raised = type.onDelayS === 0 ? 'at once' : `after ${delayText(type.onDelayS)}`;
  const band = type.deadband === null ? '' : `, ${type.deadband} ${type.deadbandUnit} inside its limit`;
  const clears = `clears after ${delayText(type.offDelayS)}${band}`;
  const latching = type.latching ? '; stays until someone has acknowledged and reset it' : '';
  return `${PRIORITY_TEXT[type.priority]}; raised ${raised}; ${clears}${latching}.`;
}
