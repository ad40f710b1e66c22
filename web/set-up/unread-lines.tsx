import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { LinkView } from '../../server/api/contract/live-state.ts';
import { DROP_TEXT, sourceLabel } from '../format/names.ts';

/** Lines that make no reading, as received, with why. */
export function UnreadLines({ dropped, linesPerS }: Pick<IncomingView, 'dropped' | 'linesPerS'>) {
  if (dropped.length === 0) return null;
  return (
    <details class="unread" data-testid="unread" open={linesPerS === 0}>
      <summary>Lines that could not be read</summary>
      <ul>
        {dropped.map(({ text, cause }, i) => (
          <li key={i}>
            <span class="raw">{text}</span> <span class="fine">{DROP_TEXT[cause]}</span>
          </li>
        ))}
      </ul>
    </details>
  );
}

/** What to check while no line can be read. */
export function NothingYet({ isNoText, link }: { isNoText: boolean; link: LinkView }) {
  if (isNoText) {
    return (
      <p role="status" class="no-text">
        <strong>This is not text. The baud rate is probably wrong.</strong> Choose the one that your sketch gives to
        Serial.begin, in the source above.
      </p>
    );
  }
  return (
    <div role="status" class="nothing-yet">
      <p>
        <strong>No line yet.</strong> {sourceLabel(link)}
      </p>
      {link.phase === 'opening' || link.phase === 'open' ? (
        <ul>
          <li>Is the sketch running, and does it print a line at least every few seconds?</li>
          <li>Does each line end with a line break, as Serial.println prints it?</li>
          <li>Did you choose the port of this board?</li>
        </ul>
      ) : (
        <ul>
          <li>Is the board plugged in and switched on?</li>
          <li>Does another program use its port, such as the serial monitor of your editor? Close it there.</li>
          <li>Is the source above the right one?</li>
        </ul>
      )}
    </div>
  );
}
