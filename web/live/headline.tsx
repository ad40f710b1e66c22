import { unbroken } from '../format/numbers.ts';
import { span } from '../format/times.ts';
import { connection, live, staleForMs } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';

/** The headline, styled by severity. On the wall it also reports a lost connection. */
export function Headline({ wall = false }: { wall?: boolean }) {
  const state = live.value;
  const lost = connection.value.phase === 'lost';
  if (wall && lost) return <Lost />;
  const severity = state?.severity ?? 'calm';
  return (
    <div
      class={`sentence ${lost ? 'stale' : severity}${(state?.sentence.length ?? 0) > 85 ? ' long' : ''}`}
      data-severity={severity}
    >
      <Shape of={severity} size={40} />
      <h1 aria-live={severity === 'danger' ? 'assertive' : 'polite'} data-testid="sentence">
        {state === null ? 'Loading the state of the line…' : withLink(unbroken(state.sentence), wall)}
      </h1>
    </div>
  );
}

/** Links the headline to the page that it refers to. */
function withLink(sentence: string, wall: boolean) {
  const at = wall ? -1 : sentence.indexOf('Set-up');
  if (at < 0) return sentence;
  return (
    <>
      {sentence.slice(0, at)}
      <a href="/set-up">Set-up</a>
      {sentence.slice(at + 6)}
    </>
  );
}

/** A lost connection must be readable from four metres, so it replaces the last headline. */
function Lost() {
  return (
    <div class="sentence danger" data-severity="danger" role="alert">
      <Shape of="danger" size={40} />
      <h1 data-testid="sentence">
        No connection to the service<span aria-hidden="true"> for {unbroken(span(staleForMs.value ?? 0))}</span>: this
        page can't see the line.
      </h1>
    </div>
  );
}
