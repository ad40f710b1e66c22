import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { lineNowMs } from '../service/live-store.ts';
import { may } from '../service/session.ts';
import { endSuppression } from './alarm-actions.ts';
import { suppressionText } from './alarm-text.ts';

/** The suppressed alarms, why each is silent, and a button that ends it. */
export function SuppressedList({ alarms }: { alarms: readonly AlarmView[] }) {
  return (
    <ul>
      {alarms.map((alarm) => (
        <li key={alarm.id} class="suppressed" data-testid="suppressed" data-type={alarm.type} data-state={alarm.state}>
          <p>
            <strong>{alarm.title}</strong>{' '}
            <span class="suppressed-text">{suppressionText(alarm, lineNowMs.value)}</span>
          </p>
          {alarm.state !== 'suppressedByDesign' && may(alarm.state === 'outOfService' ? 'manage' : 'act') && (
            <button
              type="button"
              data-testid="end-suppression"
              aria-label={
                alarm.state === 'outOfService' ? `Return ${alarm.title} to service` : `End silence of ${alarm.title}`
              }
              onClick={() => endSuppression(alarm)}
            >
              {alarm.state === 'outOfService' ? 'Return to service' : 'End silence'}
            </button>
          )}
        </li>
      ))}
    </ul>
  );
}
