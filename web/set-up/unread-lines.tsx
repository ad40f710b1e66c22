import { useState } from 'preact/hooks';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { LinkView } from '../../server/api/contract/live-state.ts';
import { DROP_TEXT } from '../format/names.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings, settings } from '../service/settings.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { areLinesArriving } from './incoming-store.ts';
import { PointAtNumbers } from './point-at-numbers.tsx';
import { isPortOf, ports } from './ports-store.ts';
import { partsOf, sourceText } from './source-text.ts';

/** Lines that make no reading, as received, with why. */
export function UnreadLines({ dropped, readingsPerS }: Pick<IncomingView, 'dropped' | 'readingsPerS'>) {
  if (dropped.length === 0) return null;
  return (
    <details class="unread" data-testid="unread" open={readingsPerS === 0}>
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

/** One tap sets the baud rate at which text arrives. */
function UseRate({ baud }: { baud: number }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const parts = partsOf(settings.value?.source ?? '');
  if (parts.kind !== 'serial') {
    return (
      <>
        Text arrives at {baud} baud. The source was set when the service was started: add <code>?baud={baud}</code> to
        it there.
      </>
    );
  }
  const use = () => {
    saveSettings({ source: sourceText({ ...parts, baud: String(baud) }) }).then(
      () => setProblem(null),
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  return (
    <>
      Text arrives at {baud} baud.{' '}
      <button type="button" class="main" onClick={use}>
        Use {baud} baud
      </button>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

/** The ports that are plugged in beside the one in use: a wrong one was chosen, or the board came back under another name. */
function OtherPorts() {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const inUse = partsOf(settings.value?.source ?? '');
  const others = (ports.value ?? []).filter((port) => !isPortOf(inUse, port));
  if (inUse.kind !== 'serial' || others.length === 0) return null;
  const use = (path: string) => {
    saveSettings({ source: sourceText({ ...inUse, path }) }).then(
      () => setProblem(null),
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  return (
    <>
      <p>Also plugged in:</p>
      <p class="actions">
        {others.map(({ path, stablePath, title }) => (
          <button type="button" key={path} onClick={() => use(stablePath)}>
            Use {title} instead
          </button>
        ))}
      </p>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

/** Causes for which a line is well received and yet makes no reading. */
const NOT_UNDERSTOOD: ReadonlySet<string> = new Set(['unreadable', 'wrongShape', 'implausible']);

/** What to check while no line can be read. */
export function NothingYet({ seen, link }: { seen: IncomingView; link: LinkView }) {
  const { isNoText, lacksLineEnds, baud } = seen;
  if (lacksLineEnds) {
    return (
      <p role="status" class="no-text">
        <strong>The board sends text without line ends.</strong> End each line with <code>Serial.println</code> in your
        sketch.
      </p>
    );
  }
  if (isNoText) {
    return (
      <p role="status" class="no-text">
        <strong>This is not text. The baud rate is probably wrong.</strong>{' '}
        {baud?.found != null ? (
          <UseRate baud={baud.found} />
        ) : (
          <>
            {baud?.trying != null && `Trying ${baud.trying} baud … `}
            Choose the one that your sketch gives to Serial.begin, in the source above.
          </>
        )}
      </p>
    );
  }
  const [latest] = seen.dropped;
  const isUnread = latest !== undefined && areLinesArriving.value && NOT_UNDERSTOOD.has(latest.cause);
  if (link.phase === 'released') return <p role="status">{link.text}</p>;
  if (link.phase === 'open' && isUnread) {
    return (
      <>
        <p role="status" class="no-text">
          <strong>Lines arrive, but none can be read.</strong> Tried: name=value, JSON, columns and free text. Print the
          same words before the numbers in every line.
        </p>
        <PointAtNumbers lines={seen.dropped.map(({ text }) => text)} />
      </>
    );
  }
  return (
    <div role="status" class="nothing-yet">
      <p>
        <strong>{seen.fields.length === 0 ? 'No line yet.' : 'The lines have stopped.'}</strong> {link.text}
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
      <OtherPorts />
    </div>
  );
}
