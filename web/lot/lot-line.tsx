import { useState } from 'preact/hooks';
import type { LotView } from '../../server/api/contract/runs-and-spools.ts';
import { lotText } from '../format/names.ts';
import { may } from '../service/session.ts';
import { Lazily, lazyPart } from '../shell/lazily.tsx';

interface Props {
  readonly runId: number;
  readonly lot: LotView | null;
  readonly changed?: () => void;
}

const lotForm = lazyPart(() => import('./lot-form.tsx'));

/** The material of the run and how it was prepared, as entered by a user. */
export function LotLine({ runId, lot, changed }: Props) {
  const [open, setOpen] = useState(false);
  const close = () => {
    setOpen(false);
    changed?.();
  };
  return (
    <section class="lot" aria-labelledby="lot-title" data-testid="lot">
      <p class="lot-text">
        <span id="lot-title" class="lot-title">
          Material:
        </span>{' '}
        {lot ? <span>{lotText(lot)}</span> : <span class="quiet">not entered.</span>}{' '}
        {!open && may('act') && (
          <button type="button" class="plain no-print" onClick={() => setOpen(true)}>
            {lot ? 'Change' : 'Add material…'}
          </button>
        )}{' '}
        {!open && (
          <a class="no-print" href="/preparation">
            All runs
          </a>
        )}
      </p>
      {open && <Lazily part={lotForm} with={{ runId, lot, close }} />}
    </section>
  );
}
