import { span } from '../format/times.ts';
import { connection, nowMs } from '../service/live-store.ts';
import { Shape } from './shape.tsx';

/** Reports a lost connection. Silence must mean "all well", so nothing on the page is louder. */
export function ConnectionBanner() {
  const { phase, sinceMs } = connection.value;
  if (phase !== 'lost') return null;
  nowMs.value; // renders every second
  return (
    <div class="connection-banner" role="alert" data-testid="connection-banner">
      <Shape of="danger" size={28} />
      <p>
        <strong>The connection to the service is lost.</strong> <span>This device is not watching</span>
        <span aria-hidden="true"> for {span(Date.now() - sinceMs)}</span>. What you see below is old. Reconnecting …
      </p>
    </div>
  );
}
