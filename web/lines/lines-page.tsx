import { useEffect } from 'preact/hooks';
import { counted } from '../format/numbers.ts';
import { connection } from '../service/live-store.ts';
import '../styles/lines.css';
import { LineRow } from './line-row.tsx';
import { followLines, lines } from './lines-store.ts';

/** All lines of the house, the worst first. */
export default function LinesPage() {
  useEffect(followLines, []);
  const all = lines.value;
  return (
    <div class={`lines${connection.value.phase === 'lost' ? ' stale' : ''}`}>
      <header class="page-head">
        <h1>Lines</h1>
        <p>
          {all === null ? 'Asking for the lines …' : linesText(all.length)} <a href="/lines/wall">On the wall</a> ·{' '}
          <a href="/set-up#other-lines">Other lines</a>
        </p>
      </header>
      {all !== null && (
        <ul class="line-rows" aria-label="Lines">
          {all.map((line) => (
            <LineRow key={line.id} line={line} />
          ))}
        </ul>
      )}
    </div>
  );
}

function linesText(count: number): string {
  return count === 1
    ? 'Only this line so far. Add the others under Set-up.'
    : `${counted(count, 'line')}, the worst first. Each also notifies people itself.`;
}
