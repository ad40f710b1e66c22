import type { OtherLineView } from '../../server/api/contract/lines.ts';
import type { StockItem } from '../../server/api/contract/stock.ts';
import { counted } from '../format/numbers.ts';
import { inSlices } from '../list/in-slices.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { Fold } from '../shell/fold.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { StockTable } from './stock-table.tsx';

/** Whether any strand of it is left. */
export function isLeft({ usedUpBy, leftMm }: StockItem): boolean {
  return usedUpBy === null && leftMm > 0;
}

/** What is left on the shelf of another line. Use is recorded on the page of that line. */
export function OtherShelf({ line }: { line: OtherLineView }) {
  const { view, problem, put } = useAnswer(() =>
    inSlices(
      (newest) => call('GET /api/lines/:id/stock', { params: { id: line.id }, query: { newest } }),
      (shelf) => shelf.isComplete,
      (soFar) => put(() => soFar),
    ),
  );
  const left = view?.items.filter((item) => isLeft(item) && !item.example) ?? [];
  const title = `On the shelf of ${line.title}`;
  return (
    <section data-testid="other-shelf">
      <h2>{title}</h2>
      {problem && <ProblemNote problem={problem} />}
      {!view?.isComplete && !problem && <p class="quiet">Asking that line …</p>}
      {view?.isComplete && left.length === 0 && <p class="quiet">Nothing is left there.</p>}
      {left.length > 0 && (
        <Fold
          title={`${counted(left.length, 'coil or uncut spool', 'coils and uncut spools')}${view?.isComplete ? '' : ' so far'}`}
        >
          <StockTable label={title} items={left} at={line.address} />
        </Fold>
      )}
    </section>
  );
}
