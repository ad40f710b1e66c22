import { useEffect } from 'preact/hooks';
import { counted } from '../format/numbers.ts';
import { connection, live } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';
import '../styles/lines.css';
import { LineRow } from './line-row.tsx';
import { followLines, lines } from './lines-store.ts';

/** As many as can be read from four metres. */
const SHOWN = 4;

/** All lines for a screen on the wall: the worst in full, the rest as one sentence. */
export default function LinesWallPage() {
  useEffect(followLines, []);
  const all = lines.value ?? [];
  const rest = all.slice(SHOWN);
  const lost = connection.value.phase === 'lost';
  return (
    <main class="wall lines-wall">
      <h1 class="visually-hidden">Lines</h1>
      {lost && (
        <p class="wall-lost" role="alert">
          <Shape of="danger" size={40} /> No connection to {live.value?.lineName ?? 'the service'}: this page can’t see
          the lines.
        </p>
      )}
      <ul class={`line-rows${lost ? ' stale' : ''}`} aria-label="Lines">
        {all.slice(0, SHOWN).map((line) => (
          <LineRow key={line.id} line={line} wall />
        ))}
      </ul>
      {rest.length > 0 && (
        <p class="lines-rest" data-testid="rest">
          {counted(rest.length, 'more line')}:{' '}
          {rest.every(({ severity }) => severity === 'calm') ? 'no alarm' : 'none worse than these'}
        </p>
      )}
      <a class="wall-back" href="/lines">
        Back to the lines
      </a>
    </main>
  );
}
