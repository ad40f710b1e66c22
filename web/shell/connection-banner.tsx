import { span } from '../format/times.ts';
import { connection, nowMs } from '../service/live-store.ts';
import { Shape } from './shape.tsx';

/**
 * Reports a lost connection. Silence must mean "all well", so nothing on the page is louder.
 * @param over drawn over what is below, which leaves room for it
 */
export function ConnectionBanner({ over }: { over: boolean }) {
  const { phase, sinceMs } = connection.value;
  if (phase !== 'lost') return null;
  nowMs.value; // renders every second
  return (
    <div class={`connection-place${over ? ' over' : ''}`}>
      <div class="connection-banner" role="alert" data-testid="connection-banner">
        <Shape of="danger" size={28} />
        <p>
          <strong>The connection to the service is lost.</strong> This page has been out of date
          <span aria-hidden="true"> for {span(Date.now() - sinceMs)}</span>. Reconnecting … Until then, check the line
          yourself.
        </p>
      </div>
    </div>
  );
}
