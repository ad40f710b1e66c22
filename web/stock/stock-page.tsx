import { useState } from 'preact/hooks';
import type { StockItem, StockView } from '../../server/api/contract/stock.ts';
import { counted, metresText } from '../format/numbers.ts';
import { inSlices } from '../list/in-slices.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ReadingNights } from '../shell/reading-nights.tsx';
import { isLeft, OtherShelf } from './other-shelf.tsx';
import { PromisesPart } from './promises-part.tsx';
import { StockTable } from './stock-table.tsx';
import { WhichFits } from './which-fits.tsx';
import { YieldPart } from './yield-part.tsx';
import '../styles/stock.css';

/** All coils and uncut spools, what is left of them, which one a print fits, and what became of their prints. */
export default function StockPage() {
  const { view, problem, put } = useAnswer(() =>
    inSlices(
      (newest) => call('GET /api/stock', { query: { newest } }),
      (shelf) => shelf.isComplete,
      (soFar) => put(() => soFar),
    ),
  );
  // Without them the question is answered by the printer chosen for each spool.
  const printers = useAnswer(() => call('GET /api/printers')).view ?? [];
  const others = useAnswer(() => call('GET /api/lines')).view ?? [];
  const [usedUpToo, setUsedUpToo] = useState(false);
  const replace = (item: StockItem) =>
    put((now) => now && { ...now, items: now.items.map((one) => (one.code === item.code ? item : one)) });
  const left = view?.items.filter(isLeft) ?? [];
  const usedUp = view?.items.filter((item) => !left.includes(item)) ?? [];
  return (
    <section class="stock">
      <header class="page-head">
        <h1>Stock</h1>
        <p>{view === null ? 'What is left of every coil and uncut spool.' : headText(view, left.length)}</p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && <ReadingNights />}
      {view && (
        <>
          <WhichFits printers={printers} items={view.items} others={others} />
          {view.isComplete && left.length === 0 && (
            <p class="quiet">Nothing is on the shelf yet: wind a spool, then cut it.</p>
          )}
          {left.length > 0 && <StockTable label="Coils and uncut spools" items={left} changed={replace} />}
          {usedUp.length > 0 && (
            <p class="actions">
              <button type="button" class="plain" aria-expanded={usedUpToo} onClick={() => setUsedUpToo(!usedUpToo)}>
                {usedUpToo ? 'Hide' : 'Show'} {counted(usedUp.length, 'that is used up', 'that are used up')}
              </button>
            </p>
          )}
          {usedUpToo && <StockTable label="Used up" items={usedUp} changed={replace} />}
          {others.map((line) => (
            <OtherShelf key={line.id} line={line} />
          ))}
          <PromisesPart />
          <YieldPart />
        </>
      )}
    </section>
  );
}

function headText({ isComplete, lowMm }: StockView, left: number): string {
  const some = counted(left, 'coil or uncut spool', 'coils and uncut spools');
  return isComplete
    ? `${some} with strand. Below ${metresText(lowMm, 0)} an entry counts as running low.`
    : `${some} with strand so far. The older nights are still being looked through …`;
}
